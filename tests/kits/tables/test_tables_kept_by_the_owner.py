"""The tables of the trade over HTTP: who reads them, who keeps them, and what follows when one changes."""

import datetime
from decimal import Decimal

import pytest
from django.utils import timezone

from assets.models import PositionRole, TemperatureCutPoint
from kits.models import FitMark, Item, KitScope, Lot, Material, MaterialStorageGroup, Part
from services.changes.models import Change
from tests.kits.tables.editing import Editor
from tests.overhauls import open_workshop

pytestmark = pytest.mark.django_db
OWN = "data sheet of the compound in stock"


@pytest.fixture
def owner(cast):
    return Editor(cast.client("data-owner"))


def judged(owner, material, family, high):
    answer = owner.get(
        f"material-suitability?material={material}&fluid_family={family}&temperature_min_c=20&temperature_max_c={high}"
    )
    return answer["materials"][0]


def ring(owner, number, specification):
    body = {"number": number, "name": number, "category": "o-ring", "specification": specification}
    return owner.post("parts", body)


class TestFigures:
    def test_a_second_source_makes_sources_differ_and_the_more_careful_one_counts(self, owner):
        assert judged(owner, "FKM", "alcohol", 50)["result"] == "limited"
        made = owner.post(
            "material-ratings",
            {"material": "FKM", "fluid_family": "alcohol", "up_to_c": "55", "rating": "C", "source": OWN},
        )
        found = judged(owner, "FKM", "alcohol", 50)
        assert (found["result"], found["rating"]) == ("unsuitable", "C")
        assert "Sources differ" in " ".join(found["sentences"])
        (differing,) = [one for one in found["differing"] if one["figure"] == "FKM in alcohol"]
        assert [(one["value"], one["counts"]) for one in differing["values"]] == [
            ("rating C up to 55 °C", True),
            ("rating B up to 60 °C", False),
        ]
        assert TemperatureCutPoint.objects.filter(celsius=Decimal(55)).exists()
        owner.delete(f"material-ratings/{made['id']}")
        assert judged(owner, "FKM", "alcohol", 50)["result"] == "limited"

    def test_choosing_a_wider_limit_needs_a_reason_and_brings_its_temperature_as_a_cut_point(self, owner):
        rows = owner.get("material-limits?material=NBR")["results"]
        assert {one["air_max_c"] for one in rows} == {"100", "120"}
        wide = next(one for one in rows if one["air_max_c"] == "120")
        made = owner.patch(f"material-limits/{wide['id']}", {"chosen_because": "Tested.", "air_max_c": "118"})
        assert made["version"] == wide["version"] + 1
        assert TemperatureCutPoint.objects.filter(celsius=Decimal(118)).exists()
        other = next(one for one in rows if one["air_max_c"] == "100")
        refused = owner.patch(f"material-limits/{other['id']}", {"chosen_because": "Also."}, status=409)
        assert refused["errors"][0]["pointer"] == "#/chosen_because"

    @pytest.mark.parametrize(
        ("path", "body", "pointer"),
        [
            ("material-limits", {"material": "NBR", "air_max_c": "90"}, "#/source"),
            ("material-limits", {"material": "NBR", "air_max_c": "90", "source": "  "}, "#/source"),
            ("material-limits", {"material": "CHEESE", "air_max_c": "90", "source": OWN}, "#/material"),
            ("material-limits", {"material": "NBR", "source": OWN}, "#/air_max_c"),
            ("material-limits", {"material": "NBR", "air_min_c": "9", "air_max_c": "8", "source": OWN}, "#/air_min_c"),
            ("material-limits", {"material": "NBR", "air_max_c": "-300", "source": OWN}, "#/air_max_c"),
            (
                "material-ratings",
                {"material": "NBR", "fluid_family": "water", "up_to_c": "60", "rating": "D", "source": OWN},
                "#/rating",
            ),
            ("fluid-families", {"code": "brine", "name": "Brine", "is_water": True}, "#/source"),
            ("position-roles", {"code": "drum", "name": "Drum", "source": ""}, "#/source"),
            ("kit-scopes", {"code": "drum", "name": "Drum", "roles": ["drum"], "source": OWN}, "#/roles"),
            ("kit-scopes", {"code": "drum", "name": "Drum", "roles": [], "source": OWN}, "#/roles"),
            (
                "assembly-cautions",
                {"code": "x", "sentence": "Beware.", "occasion": "usable", "source": OWN},
                "#/lubricant",
            ),
        ],
    )
    def test_what_cannot_be_right_names_the_field(self, owner, path, body, pointer):
        refused = owner.post(path, body, status=422)
        assert [one["pointer"] for one in refused["errors"]] == [pointer]

    def test_a_source_says_a_thing_once(self, owner):
        body = {"material": "NBR", "air_max_c": "90", "source": OWN}
        owner.post("material-limits", body)
        assert owner.post("material-limits", body, status=409)["errors"][0]["pointer"] == "#/source"

    def test_nothing_is_overwritten_that_was_not_seen(self, owner):
        row = owner.get("materials?code=NBR")["results"][0]
        assert owner.patch(f"materials/{row['id']}", {"note": "x"}, seen='"77"', status=412)["etag"]
        assert owner.patch(f"materials/{row['id']}", {"note": "x"}, seen=None, status=428)["code"] == "version-missing"

    def test_each_change_is_told(self, owner):
        made = owner.post("lubricants", {"code": "plain-water", "name": "Water", "source": OWN})
        owner.patch(f"lubricants/{made['id']}", {"name": "Plain water"})
        owner.delete(f"lubricants/{made['id']}")
        told = Change.objects.filter(noun="lubricant", noun_id=made["id"]).order_by("noun_version")
        assert [(one.kind, one.noun_version) for one in told] == [
            ("lubricant.registered", 1),
            ("lubricant.changed", 2),
            ("lubricant.removed", 3),
        ]

    def test_a_table_is_read_as_a_file(self, owner):
        answer = owner.client.get("/api/v1/material-limits?material=NBR", headers={"Accept": "text/csv"})
        lines = answer.content.decode().splitlines()
        assert {"material", "air_min_c", "air_max_c", "hot_water_max_c", "source"} < set(lines[0].split(","))
        assert len(lines) == 3


class TestWhatDependsOnIt:
    def test_what_others_refer_to_is_not_taken_out(self, owner):
        for path, code in (
            ("materials?code=NBR", "the limits"),
            ("fluid-families?code=water", "the ratings"),
            ("position-roles?code=casing-o-ring", "the scopes"),
            ("storage-groups?code=B", "the materials"),
            ("seal-faces?letters=Q1", "its ratings"),
            ("lubricants?code=soft-soap", "its verdicts"),
        ):
            row = owner.get(path)["results"][0]
            refused = owner.delete(f"{path.partition('?')[0]}/{row['id']}", status=409)
            assert refused["code"] == "still-needed", (path, code)

    def test_a_material_of_which_parts_are_made_is_not_taken_out_either(self, owner):
        made = ring(owner, "OR-1", "226 EPM 70")
        for table in ("material-limits", "material-storage-groups"):
            for row in owner.get(f"{table}?material=EPM")["results"]:
                owner.delete(f"{table}/{row['id']}")
        row = owner.get("materials?code=EPM")["results"][0]
        assert "OR-1" in owner.delete(f"materials/{row['id']}", status=409)["detail"]
        owner.patch(f"parts/{made['id']}", {"category": "o-ring", "specification": "226 NBR 70"})
        owner.delete(f"materials/{row['id']}")
        assert not Material.objects.filter(code="EPM").exists()

    def test_released_kits_are_computed_again_after_a_limit_or_a_scope_changed(self, cast, owner):
        workshop = open_workshop(cast)
        assert not FitMark.objects.exists()
        row = owner.get("material-limits?material=EPDM")["results"][0]
        owner.patch(f"material-limits/{row['id']}", {"hot_water_max_c": "80"})
        assert FitMark.objects.filter(kit_id=workshop.kit.pk).exists()
        FitMark.objects.all().delete()
        scope = KitScope.objects.get(pk=workshop.kit.kit.scope_id)
        made = owner.patch(f"kit-scopes/{scope.pk}", {"roles": ["bearing-de"]})
        assert (made["roles"], made["version"] > scope.version) == (["bearing-de"], True)
        assert FitMark.objects.filter(kit_id=workshop.kit.pk).exists()

    def test_a_seal_faces_rating_marks_the_kits_that_bring_the_letter(self, cast, owner):
        workshop = open_workshop(cast)
        row = owner.get("seal-face-ratings?seal_face=Q1")["results"][0]
        owner.patch(f"seal-face-ratings/{row['id']}", {"rating": "C"})
        assert not FitMark.objects.filter(kit_id=workshop.kit.pk).exists()
        bearing = Part.objects.get(pk=workshop.bearing.pk)
        bearing.category = "mechanical-seal"
        bearing.specification = {"category": "mechanical-seal", "materials": ["B", "Q2", "E", "G", "G"]}
        bearing.save()
        FitMark.objects.all().delete()
        owner.patch(f"seal-face-ratings/{row['id']}", {"rating": "B"})
        assert FitMark.objects.filter(kit_id=workshop.kit.pk).exists()

    def test_a_scope_goes_with_its_roles_and_leaves_the_roles(self, owner):
        made = owner.post("kit-scopes", {"code": "d", "name": "D", "roles": ["deflector"], "source": OWN})
        told = Change.objects.get(kind="kit-scope.registered", noun_id=made["id"])
        assert (told.body or {})["roles"] == ["deflector"]
        owner.delete(f"kit-scopes/{made['id']}")
        assert PositionRole.objects.filter(code="deflector").exists()


class TestStorage:
    def test_parts_follow_the_group_that_counts_and_lots_keep_the_day_they_were_given(self, owner):
        made = ring(owner, "OR-1", "226 NBR 70")
        other = ring(owner, "OR-2", "226 EPDM 70")
        item = Item.objects.get(pk=made["id"])
        lot = Lot.objects.create(
            item=item,
            number="L-1",
            received_on=datetime.date(2026, 1, 5),
            cure_date=datetime.date(2025, 12, 31),
            expires_on=datetime.date(2032, 12, 31),
        )
        iso = owner.get("material-storage-groups?material=NBR&storage_group=B")["results"][0]
        owner.patch(f"material-storage-groups/{iso['id']}", {"chosen_because": ""})
        part = owner.get(f"parts/{made['id']}")
        assert (part["storage_group"], part["version"]) == ("3+0", made["version"] + 1)
        assert owner.get("materials?code=NBR")["results"][0]["storage_group"] == "3+0"
        assert Change.objects.filter(kind="part.changed", noun_id=made["id"], noun_version=part["version"]).exists()
        assert Change.objects.filter(kind="material.changed", noun="material").count() == 1
        assert owner.get(f"parts/{other['id']}")["version"] == other["version"]
        lot.refresh_from_db()
        assert lot.expires_on == datetime.date(2032, 12, 31)

    def test_without_any_source_a_material_does_not_age(self, owner):
        made = ring(owner, "OR-1", "226 FEPM 70")
        assert made["storage_group"] == "A"
        (row,) = owner.get("material-storage-groups?material=FEPM")["results"]
        owner.delete(f"material-storage-groups/{row['id']}")
        assert owner.get(f"parts/{made['id']}")["storage_group"] is None
        assert owner.get("storage-life?material=FEPM&cure_date=3Q2021")["result"] == "not-known"

    def test_other_years_may_make_another_group_count(self, owner):
        """FEPM is in A by common practice; a second source is added whose group then becomes the shorter one."""
        made = ring(owner, "OR-1", "226 FEPM 70")
        owner.post("storage-groups", {"code": "6+1", "initial_years": 6, "extension_years": 1, "source": OWN})
        owner.post("material-storage-groups", {"material": "FEPM", "storage_group": "6+1", "source": OWN})
        assert owner.get(f"parts/{made['id']}")["storage_group"] == "A"
        group = owner.get("storage-groups?code=6%2B1")["results"][0]
        owner.patch(f"storage-groups/{group['id']}", {"initial_years": 4})
        assert owner.get(f"parts/{made['id']}")["storage_group"] == "6+1"
        assert MaterialStorageGroup.objects.filter(material__code="FEPM").count() == 2

    def test_a_quarter_in_2021_after_every_source(self, owner):
        """ISO 2230:2002, group B: 7 + 3 years from the end of the quarter."""
        found = owner.get("storage-life?material=NBR&cure_date=3Q2021&on=2029-01-01")
        assert (found["group"], found["initial_end"], found["extension_end"]) == ("B", "2028-09-30", "2031-09-30")
        assert (found["source"], found["state"]) == ("ISO 2230:2002, table of groups", "inspect")
        assert "Sources differ" in found["sentences"][1]
        assert len(found["by_source"]) == 4
        assert owner.get("storage-life?material=FPM&cure_date=2016-03-31")["material"] == "FKM"
        refused = owner.get("storage-life?material=NBR&cure_date=soon", status=400)
        assert refused["errors"][0]["pointer"] == "?cure_date"


class TestAnswers:
    def test_all_materials_and_faces_of_a_family_in_a_few_statements(self, owner, django_assert_max_num_queries):
        with django_assert_max_num_queries(10):
            found = owner.get("material-suitability?fluid_family=steam&temperature_min_c=20&temperature_max_c=130")
        results = {one["material"]: one["result"] for one in found["materials"]}
        assert (results["EPDM"], results["FKM"], results["FEPM"]) == ("suitable", "unsuitable", "not-known")
        faces = {one["material"]: one["result"] for one in found["seal_faces"]}
        assert (faces["V"], faces["Q1"]) == ("unsuitable", "limited")

    def test_an_older_name_and_a_face_are_judged(self, owner):
        found = owner.get(
            "material-suitability?material=FPM&seal_face=Q9&fluid_family=water&temperature_min_c=5&temperature_max_c=40"
        )
        assert [one["material"] for one in found["materials"]] == ["FKM"]
        assert "judged as Q" in found["seal_faces"][0]["sentences"][0]

    @pytest.mark.parametrize(
        ("query", "pointer"),
        [
            ("fluid_family=hot-soup&temperature_min_c=5&temperature_max_c=40", "?fluid_family"),
            ("fluid_family=water&temperature_min_c=50&temperature_max_c=40", "?temperature_min_c"),
            ("fluid_family=water&temperature_max_c=40", "?temperature_min_c"),
            ("fluid_family=water&temperature_min_c=cold&temperature_max_c=40", "?temperature_min_c"),
            ("fluid_family=water&temperature_min_c=5&temperature_max_c=40&colour=red", "?colour"),
        ],
    )
    def test_a_question_that_cannot_be_read_names_its_parameter(self, owner, query, pointer):
        refused = owner.get(f"material-suitability?{query}", status=400)
        assert [one["pointer"] for one in refused["errors"]] == [pointer]

    def test_lubricants_for_several_elastomers_with_their_cautions(self, owner):
        """EPDM swells in mineral grease, whatever FKM bears (general literature on elastomers)."""
        found = owner.get("lubricant-advice?elastomers=EPDM,FKM")
        verdicts = [one["verdict"] for one in found["lubricants"]]
        assert verdicts == sorted(verdicts, key=["ok", "check", "avoid", "forbidden"].index)
        assert next(one for one in found["lubricants"] if one["lubricant"] == "mineral-grease")["material"] == "EPDM"
        assert "seal-faces-dry" in {one["code"] for one in found["cautions"]}
        assert all(one["source"] for one in [*found["lubricants"], *found["cautions"]])

    def test_an_unknown_elastomer_gets_soft_soap_only(self, owner):
        """Common practice, no source."""
        found = owner.get("lubricant-advice?elastomers=XYZ")
        assert found["unknown"] == ["XYZ"]
        assert [one["lubricant"] for one in found["lubricants"] if one["verdict"] == "ok"] == ["soft-soap"]
        assert "unknown-elastomer" in {one["code"] for one in found["cautions"]}


def test_the_data_owner_may_write_and_a_fitter_may_not(cast, owner):
    fitter = Editor(cast.client("fitter"))
    row = fitter.get("kit-scopes?code=gasket")["results"][0]
    assert "casing-o-ring" in row["roles"]
    refused = fitter.patch(f"kit-scopes/{row['id']}", {"name": "x"}, status=403)
    assert refused["code"] == "not-allowed"
    before = timezone.now()
    assert owner.patch(f"kit-scopes/{row['id']}", {"name": "x"})["name"] == "x"
    assert KitScope.objects.get(pk=row["id"]).updated_at > before
