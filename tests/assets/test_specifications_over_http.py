"""Specifications over HTTP: reading one before it is given to anything, the categories, and what parts tell."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from assets.calculations.part_specifications import known_categories
from services.changes.models import Change
from tests.overhauls import hands, open_workshop
from tests.world import client_for

pytestmark = pytest.mark.django_db


@pytest.fixture
def owner(cast):
    return hands(cast)["data-owner"]


def read(client, category, text):
    return client.post("/api/v1/specifications/read", {"category": category, "specification": text}, format="json")


class TestReading:
    def test_inches_are_answered_as_the_size_code_with_a_note(self, cast):
        """ISO 3601-1:2012, size code 226: 1.984 in, 50.39 mm."""
        answer = read(cast.client("reader"), "o-ring", "1.984 in x 0.139 in FPM 75").json()
        assert answer["designation"] == "50.39x3.53 FKM 75"
        assert answer["specification"]["category"] == "o-ring"
        assert answer["specification"]["inside_diameter_mm"] == "50.39"
        assert answer["elastomers"] == ["FKM"]
        assert answer["faces"] == []
        assert {"name": "size code", "value": "226", "unit": "", "source": "ISO 3601-1; the dash number of AS568"} in (
            answer["properties"]
        )
        assert [note[:3] for note in answer["notes"]] == ["1.9", "FPM"]

    def test_letters_are_answered_in_words(self, cast):
        """EN 12756:2000, material key (value from memory)."""
        answer = read(cast.client("reader"), "mechanical-seal", "NU043S0-Q1BVGG").json()
        words = {one["name"]: one["value"] for one in answer["properties"]}
        assert words["rotating face"] == "silicon carbide, sintered"
        assert words["secondary seals"] == "FKM, fluorocarbon rubber"
        assert (answer["elastomers"], answer["faces"]) == (["FKM"], ["B", "Q1"])

    def test_nothing_is_written_and_a_token_to_read_is_enough(self, cast):
        before = Change.objects.count()
        client = client_for(cast.people["reader"], ("read",))
        with CaptureQueriesContext(connection) as captured:
            assert read(client, "rolling-bearing", "6308-2Z/C3").status_code == 200
        written = [one["sql"] for one in captured.captured_queries if one["sql"].startswith(("INSERT", "DELETE"))]
        assert written == []
        assert Change.objects.count() == before

    @pytest.mark.parametrize(
        ("category", "text", "pointer", "remedy"),
        [
            ("o-ring", "285 EPDM", "#/specification", "inside diameter x section"),
            ("key", "10x7x40", "#/specification", "10x8"),
            ("mechanical-seal", "NU042S0 Q1 Q1 E G G", "#/specification", "43 mm"),
            ("fastener", "M12x40 7.8", "#/specification", "8.8"),
            ("rolling-bearing", "6308\u0663", "#/specification", "plain letters"),
        ],
    )
    def test_what_cannot_be_read_is_refused_with_the_remedy(self, cast, category, text, pointer, remedy):
        answer = read(cast.client("reader"), category, text)
        problem = answer.json()
        assert (answer.status_code, problem["code"]) == (422, "specification-unreadable")
        assert problem["errors"][0]["pointer"] == pointer
        assert remedy in problem["detail"] + problem.get("remedy", "")

    @pytest.mark.parametrize(
        "body",
        [{}, {"category": "hose", "specification": "x"}, {"category": "o-ring"}, {"category": "o-ring", "size": "226"},
         {"category": "other", "specification": "  "}],
    )  # fmt: skip
    def test_a_body_that_is_none_is_refused(self, cast, body):
        answer = cast.client("reader").post("/api/v1/specifications/read", body, format="json")
        assert answer.status_code == 422


class TestCategories:
    def test_each_has_an_example_that_reads(self, cast):
        client = cast.client("reader")
        found = client.get("/api/v1/part-categories").json()["results"]
        assert [one["code"] for one in found] == known_categories()
        for one in found:
            assert read(client, one["code"], one["example"]).status_code == 200, one
            assert one["is_typed"] == (one["code"] != "other")
            assert bool(one["compared"]) == one["is_typed"]

    def test_unknown_parameters_are_refused(self, cast):
        assert cast.client("reader").get("/api/v1/part-categories?code=key").status_code == 400


class TestPartsAndPositions:
    def test_a_part_tells_what_its_specification_says_without_asking_more_of_the_database(self, cast, owner):
        made = owner.post(
            "parts",
            {"number": "B-1", "name": "Bearing", "category": "rolling-bearing", "specification": "6308 zz c3"},
            status=201,
        )
        assert made["designation"] == "6308-2Z/C3"
        assert {"name": "bore", "value": "40", "unit": "mm", "source": "ISO 15"} in made["properties"]
        client = cast.client("reader")
        client.get("/api/v1/me")
        with CaptureQueriesContext(connection) as captured:
            told = client.get(f"/api/v1/parts/{made['id']}").json()
        assert told["properties"] == made["properties"]
        assert len([one for one in captured.captured_queries if '"kits_item"' in one["sql"]]) == 1

    def test_a_wear_position_tells_what_it_asks_for_and_nothing_where_only_a_number_is(self, cast, owner):
        model = open_workshop(cast).pump.pump_model_id
        path = f"pump-models/{model}/wear-positions"
        typed = owner.post(
            path,
            {"role": "lip-seal-de", "quantity": "1", "category": "lip-seal", "specification": "AS 40-62-8 NBR"},
            status=201,
        )
        assert typed["designation"] == "40x62x8 NBR type 4"
        assert any(one["name"] == "type" for one in typed["properties"])
        numbered = owner.post(path, {"role": "cover-gasket", "quantity": "1", "part_number": "G-1"}, status=201)
        assert (numbered["designation"], numbered["properties"]) == ("", [])
