"""Computations of the trade for whoever is signed in: nothing is written, nothing is kept."""

from typing import Any

from drf_spectacular.utils import PolymorphicProxySerializer, extend_schema_field
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from jobs.calculations.offered import CALCULATIONS
from jobs.calculations.offered.declared import Calculation, Input, Kind, Output, Source
from jobs.calculations.offered.reading import Answered, InputsWrong, answer
from services.api.filters import check_parameters
from services.api.problems import near
from services.api.refusals import FieldProblem, InvalidValue, NotThere
from services.api.rows import Body
from services.api.schema import describe

TAG = "Calculations"
# The declarations change with a release only.
KEPT = {"Cache-Control": "private, max-age=300"}


class GivenQuantity(Body):
    value = serializers.CharField(help_text="A decimal, as text.")
    unit = serializers.CharField(help_text="Any unit of the same kind, such as mm or in.")


class CalculationInputShape(serializers.Serializer[Any]):
    name = serializers.CharField()
    kind = serializers.CharField(help_text=", ".join(one.value for one in Kind) + ".")
    words = serializers.CharField()
    unit = serializers.CharField(help_text="The unit it is worked out in; any of the same kind may be sent.")
    least = serializers.CharField(allow_null=True, help_text="In the unit; of rows, how many.")
    greatest = serializers.CharField(allow_null=True)
    choices = serializers.ListField(child=serializers.CharField())
    required = serializers.BooleanField()  # type: ignore[assignment]
    usual = serializers.CharField(allow_null=True, help_text="What counts where it is left out.")
    columns = serializers.ListField(child=serializers.DictField(), help_text="Inputs of a row, where it takes rows.")


class CalculationOutputShape(serializers.Serializer[Any]):
    name = serializers.CharField()
    words = serializers.CharField()
    unit = serializers.CharField(help_text="Empty: a plain number, words, or yes or no.")


class CalculationSourceShape(serializers.Serializer[Any]):
    standard = serializers.CharField()
    edition = serializers.CharField(allow_blank=True)
    place = serializers.CharField(allow_blank=True, help_text="Clause or table.")
    confidence = serializers.CharField(help_text="Such as value from memory; or common practice, no source.")


class CalculationShape(serializers.Serializer[Any]):
    name = serializers.CharField()
    title = serializers.CharField()
    family = serializers.CharField()
    formula = serializers.CharField()
    inputs = CalculationInputShape(many=True)
    outputs = CalculationOutputShape(many=True)
    sources = CalculationSourceShape(many=True)
    cautions = serializers.ListField(child=serializers.CharField())
    example = serializers.DictField(help_text="A request to copy.")


class CalculationsAnswer(serializers.Serializer[Any]):
    results = CalculationShape(many=True)


class CalculationAnswer(serializers.Serializer[Any]):
    name = serializers.CharField()
    title = serializers.CharField()
    formula = serializers.CharField()
    inputs = serializers.DictField(help_text="As understood, in the units of the formula; null where left out.")
    results = serializers.DictField(help_text="By name; what does not apply is left out.")
    sentence = serializers.CharField(help_text="The result in words.")
    sources = CalculationSourceShape(many=True)
    cautions = serializers.ListField(child=serializers.CharField())


def _field(one: Input, name_of_parent: str) -> serializers.Field[Any, Any, Any, Any]:
    allowed = one.range_words()
    words = f"{one.words} {allowed[0].upper()}{allowed[1:]}." if allowed else one.words
    given: dict[str, Any] = {"required": not one.optional, "allow_null": one.optional, "help_text": words}
    if one.kind is Kind.QUANTITY:
        return GivenQuantity(**given)
    if one.kind is Kind.CHOICE:
        return _word(one.choices)(**given)
    if one.kind is Kind.FLAG:
        return serializers.BooleanField(**given)
    if one.kind is Kind.WHOLE:
        return serializers.IntegerField(**given)
    if one.kind is Kind.ROWS:
        row = _serializer(f"{name_of_parent}{_camel(one.name)}Row", one.columns)
        return row(many=True, **given)
    return serializers.CharField(**given)


def _word(choices: tuple[str, ...]) -> type[serializers.CharField]:
    """A text with an enumeration of its own: as a choice field it would share a component with others of its name."""
    found: type[serializers.CharField] = type("Word", (serializers.CharField,), {})
    return extend_schema_field({"oneOf": [{"type": "string", "enum": list(choices)}]})(found)


def _camel(name: str) -> str:
    return "".join(part.capitalize() for part in name.replace("-", "_").split("_"))


def _serializer(name: str, inputs: tuple[Input, ...]) -> type[Body]:
    return type(name, (Body,), {one.name: _field(one, name) for one in inputs})


# What each calculation takes, for the description of the API; read by the pure reader, which says more when it refuses.
INPUTS = {name: _serializer(f"{_camel(name)}Inputs", one.inputs) for name, one in CALCULATIONS.items()}
TAKEN = PolymorphicProxySerializer(
    component_name="CalculationInputs", serializers=list(INPUTS.values()), resource_type_field_name=None
)


def _input_row(one: Input) -> dict[str, Any]:
    return {
        "name": one.name,
        "kind": one.kind.value,
        "words": one.words,
        "unit": one.unit,
        "least": None if one.least is None else f"{one.least:f}",
        "greatest": None if one.greatest is None else f"{one.greatest:f}",
        "choices": list(one.choices),
        "required": not one.optional,
        "usual": None if one.usual is None else str(one.usual).lower() if one.kind is Kind.FLAG else str(one.usual),
        "columns": [_input_row(column) for column in one.columns],
    }


def _output_row(one: Output) -> dict[str, Any]:
    return {"name": one.name, "words": one.words, "unit": one.unit}


def _source_row(one: Source) -> dict[str, Any]:
    return {"standard": one.standard, "edition": one.edition, "place": one.place, "confidence": one.confidence}


def _row(one: Calculation) -> dict[str, Any]:
    return {
        "name": one.name,
        "title": one.title,
        "family": one.family,
        "formula": one.formula,
        "inputs": [_input_row(given) for given in one.inputs],
        "outputs": [_output_row(found) for found in one.outputs],
        "sources": [_source_row(source) for source in one.sources],
        "cautions": list(one.cautions),
        "example": dict(one.example),
    }


def _answer(one: Calculation, found: Answered) -> dict[str, Any]:
    return {
        "name": one.name,
        "title": one.title,
        "formula": one.formula,
        "inputs": found.inputs,
        "results": found.results,
        "sentence": found.outcome.sentence,
        "sources": [_source_row(source) for source in (*one.sources, *found.outcome.sources)],
        "cautions": [*one.cautions, *found.outcome.cautions],
    }


def _named(name: str) -> Calculation:
    if name not in CALCULATIONS:
        raise NotThere(
            f"There is no calculation of this name.{near(name[:60], CALCULATIONS)}",
            remedy="GET /api/v1/calculations lists them.",
        )
    return CALCULATIONS[name]


_EXAMPLE = CALCULATIONS["bearing-on-shaft"]


class CalculationsView(APIView):
    @describe(
        summary="Computations of the trade that can be asked for",
        tag=TAG,
        responses=CalculationsAnswer,
        operation_id="calculations_list",
        description="Each with its formula, inputs with units and ranges, results, sources and cautions.",
        example={"results": [_row(_EXAMPLE)]},
    )
    def get(self, request: Request) -> Response:
        check_parameters(request, [])
        return Response({"results": [_row(one) for one in CALCULATIONS.values()]}, headers=KEPT)


class CalculationView(APIView):
    reads_only = True

    @describe(
        summary="One computation: formula, inputs, results, sources, cautions",
        tag=TAG,
        responses=CalculationShape,
        operation_id="calculations_read",
        example=_row(_EXAMPLE),
    )
    def get(self, request: Request, calculation: str) -> Response:
        check_parameters(request, [])
        return Response(_row(_named(calculation)), headers=KEPT)

    @describe(
        summary="Work it out",
        tag=TAG,
        request=TAKEN,
        responses=CalculationAnswer,
        operation_id="calculations_work_out",
        description=(
            "Nothing is written and nothing is kept. A quantity is sent with its unit, any of the same kind, and "
            "answered as understood in the unit of the formula. Every input that is wrong is named at once. The "
            "cautions belong to the result: show them with it."
        ),
        request_examples={name: dict(one.example) for name, one in CALCULATIONS.items()},
        example=_answer(_EXAMPLE, answer(_EXAMPLE, _EXAMPLE.example)),
    )
    def post(self, request: Request, calculation: str) -> Response:
        check_parameters(request, [])
        one = _named(calculation)
        try:
            found = answer(one, request.data)
        except InputsWrong as error:
            places = ", ".join(dict.fromkeys(wrong.name or "the body" for wrong in error.problems[:5]))
            raise InvalidValue(
                f"{len(error.problems)} input{'s' if len(error.problems) != 1 else ''} cannot be used: {places}.",
                remedy="Correct what errors names; GET the same address for the inputs, their units and ranges.",
                problems=[
                    FieldProblem(f"#/{wrong.name}" if wrong.name else "#", wrong.code, str(wrong))
                    for wrong in error.problems
                ],
            ) from error
        return Response(_answer(one, found))
