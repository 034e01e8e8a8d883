"""Which model, and which installed pump, a nameplate belongs to."""

from typing import Any

from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from assets.calculations.nameplate_reading import LONGEST_TEXT
from assets.calculations.nameplates import MARGIN, THRESHOLD, Match, PlateModel
from assets.calculations.plate_text import parse_size
from assets.calculations.written_numbers import plain
from assets.queries.nameplates import PlateAnswer, PumpMatch, match_plate
from services.api.refusals import FieldProblem, InvalidValue
from services.api.rows import Body, read_body
from services.api.schema import describe
from services.identity.callers import caller_of

TAG = "Pump models"
MOST_SHOWN = 5
TOLD_BY = ("text", "type_text", "maker", "serial")


class PlateFiguresIn(Body):
    flow_m3_h = serializers.DecimalField(max_digits=9, decimal_places=3, required=False, min_value=0)
    head_m = serializers.DecimalField(max_digits=9, decimal_places=3, required=False, min_value=0)
    speed_rpm = serializers.DecimalField(max_digits=8, decimal_places=1, required=False, min_value=0)
    power_kw = serializers.DecimalField(max_digits=9, decimal_places=3, required=False, min_value=0)


class NameplateIn(Body):
    text = serializers.CharField(
        max_length=LONGEST_TEXT,
        required=False,
        allow_blank=True,
        trim_whitespace=False,
        help_text="The lines of the plate as typed or scanned, one a line, in any order.",
    )
    maker = serializers.CharField(max_length=120, required=False, allow_blank=True)
    type_text = serializers.CharField(
        max_length=120, required=False, allow_blank=True, help_text="Series and size as written: NB 65-40-200."
    )
    serial = serializers.CharField(max_length=60, required=False, allow_blank=True)
    year = serializers.IntegerField(min_value=1850, max_value=2199, required=False, allow_null=True)
    figures = PlateFiguresIn(required=False)


class PlateModelShape(serializers.Serializer[Any]):
    id = serializers.UUIDField()
    code = serializers.CharField()
    maker_name = serializers.CharField()
    series = serializers.CharField()
    designation = serializers.CharField()
    configuration = serializers.CharField()
    rated_speed_rpm = serializers.DecimalField(max_digits=8, decimal_places=1)
    rated_power_kw = serializers.DecimalField(max_digits=9, decimal_places=3)


class PlatePartsShape(serializers.Serializer[Any]):
    maker = serializers.FloatField(allow_null=True, help_text="Null: the plate does not tell.")
    series = serializers.FloatField()
    size = serializers.FloatField()
    figures = serializers.FloatField(allow_null=True, help_text="Speed and power near the rated ones.")


class PlateMatchShape(serializers.Serializer[Any]):
    model = PlateModelShape()
    score = serializers.FloatField(help_text="0 to 1.")
    parts = PlatePartsShape()
    exact = serializers.BooleanField(help_text="Series and size are written the same.")
    against = serializers.ListField(
        child=serializers.CharField(), help_text="Parts that speak against it; such a model is never taken for found."
    )


class PlatePumpShape(serializers.Serializer[Any]):
    id = serializers.UUIDField()
    tag = serializers.CharField()
    site = serializers.UUIDField()
    site_code = serializers.CharField()
    site_name = serializers.CharField()
    serial_number = serializers.CharField()
    model = serializers.UUIDField()
    model_code = serializers.CharField()
    score = serializers.FloatField()
    same_serial = serializers.BooleanField(help_text="False: the same but for signs that are easily misread.")


class PlateSizeShape(serializers.Serializer[Any]):
    numbers = serializers.ListField(child=serializers.IntegerField())
    form = serializers.CharField(help_text="iso-2858, en-733, other or unsure.")


class PlateFiguresShape(serializers.Serializer[Any]):
    flow_m3_h = serializers.DecimalField(max_digits=12, decimal_places=3, required=False)
    head_m = serializers.DecimalField(max_digits=12, decimal_places=3, required=False)
    speed_rpm = serializers.DecimalField(max_digits=12, decimal_places=1, required=False)
    power_kw = serializers.DecimalField(max_digits=12, decimal_places=3, required=False)


class PlateReadShape(serializers.Serializer[Any]):
    maker = serializers.CharField()
    type_text = serializers.CharField()
    size = PlateSizeShape(allow_null=True)
    serial = serializers.CharField()
    year = serializers.IntegerField(allow_null=True)
    figures = PlateFiguresShape()
    lines = serializers.ListField(child=serializers.CharField(), help_text="What could be given to nothing.")


class NameplateAnswer(serializers.Serializer[Any]):
    decision = serializers.CharField(help_text="found or ask.")
    question = serializers.CharField(help_text="What to look at on the pump; empty where found.")
    pumps = PlatePumpShape(many=True, help_text="Installed pumps with this serial number at sites granted to you.")
    model = PlateModelShape(allow_null=True, help_text="The model found, or the nearest one; null where none is.")
    score = serializers.FloatField(allow_null=True)
    parts = PlatePartsShape(allow_null=True)
    runner_up = PlateMatchShape(allow_null=True)
    candidates = PlateMatchShape(many=True, help_text="The nearest five, the best first.")
    read = PlateReadShape()
    notes = serializers.ListField(child=serializers.CharField())
    threshold = serializers.FloatField(help_text="The score from which a model is taken for found.")
    margin = serializers.FloatField(help_text="A runner-up within it makes the answer a question.")


EXAMPLE_MODEL = {
    "id": "0199a0c4-0000-7000-8000-000000000004",
    "code": "NB-40-200",
    "maker_name": "Norrvik Pumps",
    "series": "NB",
    "designation": "65-40-200",
    "configuration": "long-coupled-back-pull-out",
    "rated_speed_rpm": "2900.0",
    "rated_power_kw": "15.000",
}
EXAMPLE_PARTS = {"maker": 0.95, "series": 1.0, "size": 0.95, "figures": 1.0}
EXAMPLE = {
    "decision": "found",
    "question": "",
    "pumps": [
        {
            "id": "0199a0c4-0000-7000-8000-000000000006",
            "tag": "P-117",
            "site": "0199a0c4-0000-7000-8000-000000000001",
            "site_code": "heat-plant",
            "site_name": "Heat plant",
            "serial_number": "NB2019-0117",
            "model": EXAMPLE_MODEL["id"],
            "model_code": "NB-40-200",
            "score": 0.989,
            "same_serial": True,
        }
    ],
    "model": EXAMPLE_MODEL,
    "score": 0.973,
    "parts": EXAMPLE_PARTS,
    "runner_up": None,
    "candidates": [
        {"model": EXAMPLE_MODEL, "score": 0.973, "parts": EXAMPLE_PARTS, "exact": False, "against": []},
    ],
    "read": {
        "maker": "Norrvik Pumps",
        "type_text": "NB 65-4O-200",
        "size": {"numbers": [65, 4], "form": "other"},
        "serial": "NB2019-0117",
        "year": 2019,
        "figures": {"speed_rpm": "2900"},
        "lines": ["NORRVIK PUMPS AS"],
    },
    "notes": [
        "pump P-117 at Heat plant has this serial number",
        "2.900 1/min read with thousands parted",
        "Norrvik Pumps was taken for the maker, since such a name stands on the plate",
        "NB-40-200: 65-4O-200 was read as 65-40-200",
    ],
    "threshold": THRESHOLD,
    "margin": MARGIN,
}


class NameplateMatchView(APIView):
    reads_only = True

    @describe(
        summary="Find the model and the pump of a nameplate",
        description=(
            "Give the plate's lines as text, its entries in fields, or both; fields outrank the text. Nothing is "
            "written. The answer is found only where the score reaches the threshold, nothing speaks against the model "
            "and no other comes near; otherwise it is a question that says what to look at."
        ),
        tag=TAG,
        request=NameplateIn,
        responses=NameplateAnswer,
        request_example={
            "text": "NORRVIK PUMPS AS\nType NB 65-4O-200\nS/N NB2019-0117  Year 2019\nn 2.900 min-1",
        },
        example=EXAMPLE,
        operation_id="nameplates_match",
    )
    def post(self, request: Request) -> Response:
        body = read_body(request, NameplateIn)
        if not any((body.get(name) or "").strip() for name in TOLD_BY):
            raise InvalidValue(
                "Nothing of a nameplate was given.",
                remedy="Give text, or type_text with maker and serial as far as they can be read.",
                problems=[FieldProblem(f"#/{name}", "required", "One of these is needed.") for name in TOLD_BY],
            )
        found = match_plate(by=caller_of(request), **body)
        return Response(_answer(found), headers={"Cache-Control": "private, no-store"})


def _answer(found: PlateAnswer) -> dict[str, Any]:
    best = found.ranked[0] if found.ranked else None
    read = found.reading
    sized = parse_size(read.type_text)
    return {
        "decision": found.decision,
        "question": found.question,
        "pumps": [_pump(one) for one in found.pumps[:MOST_SHOWN]],
        "model": _model(best.model) if best else None,
        "score": best.score if best else None,
        "parts": best.parts if best else None,
        "runner_up": _match(found.ranked[1]) if len(found.ranked) > 1 else None,
        "candidates": [_match(one) for one in found.ranked[:MOST_SHOWN]],
        "read": {
            "maker": read.maker,
            "type_text": read.type_text,
            "size": {"numbers": list(sized.size.numbers), "form": sized.size.form} if sized else None,
            "serial": read.serial,
            "year": read.year,
            "figures": {name: plain(round(value, 3)) for name, value in sorted(read.figures.items())},
            "lines": list(read.lines),
        },
        "notes": found.notes,
        "threshold": found.threshold,
        "margin": found.margin,
    }


def _model(one: PlateModel) -> dict[str, Any]:
    return {
        "id": one.id,
        "code": one.code,
        "maker_name": one.maker,
        "series": one.series,
        "designation": one.designation,
        "configuration": one.configuration,
        "rated_speed_rpm": one.rated_speed_rpm,
        "rated_power_kw": one.rated_power_kw,
    }


def _match(one: Match) -> dict[str, Any]:
    return {
        "model": _model(one.model),
        "score": one.score,
        "parts": one.parts,
        "exact": one.exact,
        "against": list(one.against),
    }


def _pump(one: PumpMatch) -> dict[str, Any]:
    pump = one.pump
    return {
        "id": pump.pk,
        "tag": pump.tag,
        "site": pump.site_id,
        "site_code": pump.site.code,
        "site_name": pump.site.name,
        "serial_number": pump.serial_number,
        "model": pump.pump_model_id,
        "model_code": pump.pump_model.code,
        "score": one.score,
        "same_serial": one.same_serial,
    }
