"""What a written specification says, before it is given to a part or a wear position; and the categories there are."""

from typing import Any

from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from assets.calculations.part_specifications import known_categories, part_categories
from assets.queries.specifications import read_written
from services.api.filters import check_parameters
from services.api.rows import Body, read_body
from services.api.schema import describe

TAG = "Specifications"


class PropertyShape(serializers.Serializer[Any]):
    name = serializers.CharField()
    value = serializers.CharField()
    unit = serializers.CharField(help_text="Empty where the value is in words.")
    source = serializers.CharField(  # type: ignore[assignment]
        help_text="The standard that says so, or as written."
    )


class ReadIn(Body):
    category = serializers.ChoiceField(choices=known_categories())
    specification = serializers.CharField(max_length=200, help_text="As people write it; mm or inches.")


class ReadAnswer(serializers.Serializer[Any]):
    category = serializers.CharField()
    designation = serializers.CharField(help_text="The one way to write it; reading it gives the same specification.")
    specification = serializers.DictField(help_text="Typed, after its category, as parts and wear positions keep it.")
    properties = PropertyShape(many=True)
    elastomers = serializers.ListField(child=serializers.CharField(), help_text="ISO 1629 codes it brings.")
    faces = serializers.ListField(child=serializers.CharField(), help_text="EN 12756 letters of the seal faces.")
    notes = serializers.ListField(child=serializers.CharField(), help_text="What was converted or is worth a look.")


READ_EXAMPLE = {
    "category": "o-ring",
    "designation": "50.39x3.53 EPDM 70",
    "specification": {
        "category": "o-ring",
        "inside_diameter_mm": "50.39",
        "section_mm": "3.53",
        "material": "EPDM",
        "hardness_irhd": 70,
        "hardness_shore_a": None,
        "tolerance_class": "",
        "surface_grade": "",
    },
    "properties": [
        {"name": "inside diameter", "value": "50.39", "unit": "mm", "source": "ISO 3601-1, size code 226"},
        {"name": "section", "value": "3.53", "unit": "mm", "source": "ISO 3601-1, size code 226"},
        {"name": "material", "value": "EPDM, ethylene-propylene-diene rubber", "unit": "", "source": "ISO 1629"},
    ],
    "elastomers": ["EPDM"],
    "faces": [],
    "notes": ["1.984 in x 0.139 in is 50.3936 x 3.5306 mm (1 in = 25.4 mm)."],
}


class ReadSpecificationView(APIView):
    reads_only = True

    @describe(
        summary="Read a specification",
        tag=TAG,
        request=ReadIn,
        responses=ReadAnswer,
        operation_id="specifications_read",
        description=(
            "What a text says in a category: decoded, with units and the standard that says so. Nothing is written. "
            "Two texts that mean the same part answer the same designation."
        ),
        example=READ_EXAMPLE,
        request_example={"category": "o-ring", "specification": "1.984 in x 0.139 in EPDM 70"},
    )
    def post(self, request: Request) -> Response:
        return Response(read_written(**read_body(request, ReadIn)))


class PartCategoryShape(serializers.Serializer[Any]):
    code = serializers.CharField()
    title = serializers.CharField()
    example = serializers.CharField(help_text="A specification to copy.")
    compared = serializers.ListField(
        child=serializers.CharField(), help_text="What must be equal for one part to stand in for another."
    )
    compared_where_asked = serializers.ListField(
        child=serializers.CharField(), help_text="What must also serve where the position asks for it."
    )
    standard = serializers.CharField()
    is_typed = serializers.BooleanField(help_text="False: free text, never equal to anything.")


class PartCategoriesAnswer(serializers.Serializer[Any]):
    results = PartCategoryShape(many=True)


CATEGORY_EXAMPLE = {
    "code": "o-ring",
    "title": "O-ring",
    "example": "226 EPDM 70",
    "compared": ["inside diameter", "section", "material"],
    "compared_where_asked": ["hardness", "tolerance class", "surface grade"],
    "standard": "ISO 3601-1 sizes, ISO 1629 material",
    "is_typed": True,
}


class PartCategoriesView(APIView):
    @describe(
        summary="Categories of parts, with an example to copy",
        tag=TAG,
        responses=PartCategoriesAnswer,
        operation_id="part_categories_list",
        example={"results": [CATEGORY_EXAMPLE]},
    )
    def get(self, request: Request) -> Response:
        check_parameters(request, [])
        answer = PartCategoriesAnswer({"results": part_categories()}).data
        return Response(answer, headers={"Cache-Control": "private, max-age=300"})
