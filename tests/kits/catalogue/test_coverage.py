"""What makers say kits are for: serials, stars, variants, days; and what in it overlaps or is left out."""

import datetime
from typing import Any

import pytest

from assets.calculations.serial_ranges import SerialRange
from assets.models import Pump, SerialCutPoint, VariantCutPoint, WearPosition
from assets.operations.pumps import register_pump
from kits.calculations.coverage import Declared, declared_for_pump
from kits.models import Coverage
from kits.operations.coverage_loads import load_coverage
from services.api.loading import LoadRow
from tests.overhauls import hands, open_workshop
from tests.shelves import make_kit

JAN, JUN = datetime.date(2026, 1, 1), datetime.date(2026, 6, 1)
ONE_DAY = datetime.timedelta(days=1)


class TestForWhomItHolds:
    """Common practice, no source."""

    SAID = (
        Declared("by prefix", SerialRange("NB2019*")),
        Declared("for EPDM", variant={"elastomer": "EPDM"}),
        Declared("until May", valid_to=JUN - ONE_DAY),
        Declared("from June on", SerialRange("NB2018", "NB2020*"), valid_from=JUN),
    )

    @pytest.mark.parametrize(
        ("serial", "variant", "on", "kits"),
        [
            ("NB2019-0117", {"elastomer": "epdm"}, JAN, {"by prefix", "for EPDM", "until May"}),
            ("NB2019-0117", {"elastomer": "FKM"}, JUN, {"by prefix", "from June on"}),
            ("NB2020-0001", {}, JUN, {"from June on"}),
            ("NB2021-0001", {}, JUN - ONE_DAY, {"until May"}),
        ],
    )
    def test_serial_variant_and_day_decide_together(self, serial, variant, on, kits):
        assert declared_for_pump(self.SAID, serial, variant, on) == kits


@pytest.fixture
def workshop(cast):
    return open_workshop(cast)


@pytest.fixture
def owner(cast):
    return hands(cast)["data-owner"]


def declare(owner, kit, pump, status=201, **facts):
    body = {"kit": str(kit.pk), "pump_model": str(pump.pump_model_id), **facts}
    return owner.post("coverage", body, status=status)


def another_pump(cast, like, tag, serial, variant):
    return register_pump(
        by=cast.by("integrator"), site_id=cast.north.pk, pump_model_id=like.pump_model_id, tag=tag,
        serial_number=serial, fluid_id=like.fluid_id, variant=variant, temperature_min_c=like.temperature_min_c,
        temperature_max_c=like.temperature_max_c, criticality="vital",
    )  # fmt: skip


class TestDeclaring:
    def test_a_star_a_variant_and_days_are_kept_and_tell_build_classes_apart(self, cast, workshop, owner):
        other = another_pump(cast, workshop.pump, "P-118", "NB2020-0001", {"elastomer": "FKM"})
        assert other.build_class_id == workshop.pump.build_class_id
        made = declare(
            owner, workshop.kit, workshop.pump, serial_from="nb 2019*", variant={"elastomer": "EPDM"},
            valid_from="2026-01-01",
        )  # fmt: skip
        assert (made["serial_from"], made["serial_to"], made["valid_to"]) == ("NB2019*", "", None)
        assert set(SerialCutPoint.objects.values_list("serial", flat=True)) == {"NB2019", "NB2019*"}
        assert VariantCutPoint.objects.get().name == "elastomer"
        first, second = Pump.objects.order_by("tag").values_list("build_class_id", flat=True)
        assert first != second

    def test_the_days_may_change_and_a_range_that_cannot_be_is_refused(self, workshop, owner):
        made = declare(owner, workshop.kit, workshop.pump)
        headers = {"If-Match": owner.client.get(f"/api/v1/coverage/{made['id']}").headers["ETag"]}
        body = {"valid_to": "2026-05-31"}
        changed = owner.client.patch(f"/api/v1/coverage/{made['id']}", body, format="json", headers=headers)
        assert changed.json()["valid_to"] == "2026-05-31"
        for facts, pointer in (
            ({"serial_from": "A*B"}, "#/serial_from"),
            ({"serial_from": "B", "serial_to": "A"}, "#/serial_to"),
            ({"valid_from": "2026-02-01", "valid_to": "2026-01-01"}, "#/valid_to"),
        ):
            refused = declare(owner, workshop.kit, workshop.pump, status=422, **facts)
            assert refused["errors"][0]["pointer"] == pointer

    def test_files_bring_variants_and_days_and_the_same_file_twice_changes_nothing(self, cast, workshop):
        rows: list[dict[str, Any]] = [
            {"serial_from": "NB2019*", "variant": "elastomer=EPDM", "valid_from": JAN},
            {"serial_from": "NB2019*", "variant": "elastomer"},
            {"serial_from": "A*B"},
        ]
        loaded = [
            LoadRow(place, {"kit": "KIT-NB", "revision": "A", "model": "NB-40-200", **row})
            for place, row in enumerate(rows, 1)
        ]
        done = load_coverage(by=cast.by("data-owner"), rows=loaded)
        assert [one.outcome for one in done] == ["created", "refused", "refused"]
        assert [one.problems[0].column for one in done[1:]] == ["variant", "serial_from"]
        assert [one.outcome for one in load_coverage(by=cast.by("data-owner"), rows=loaded[:1])] == ["unchanged"]
        ends = [LoadRow(1, {**loaded[0].values, "valid_to": JUN})]
        assert [one.outcome for one in load_coverage(by=cast.by("data-owner"), rows=ends)] == ["changed"]
        assert Coverage.objects.get().valid_to == JUN


class TestFindings:
    def findings(self, owner, workshop, path="pump-models", on=""):
        pk = workshop.pump.pump_model_id if path == "pump-models" else workshop.kit.pk
        return owner.get(f"{path}/{pk}/coverage-findings{on}")["results"]

    def test_two_kits_of_one_scope_for_the_same_pumps_overlap(self, workshop, owner):
        other = make_kit("KIT-LATE", [])
        declare(owner, workshop.kit, workshop.pump, serial_to="NB2019*")
        declare(owner, other, workshop.pump, serial_from="NB2019-0100")
        (found,) = self.findings(owner, workshop)
        assert found["kind"] == "coverage-overlap"
        assert {one["name"] for one in found["said"]} == {"KIT-NB A", "KIT-LATE A"}
        assert "serials up to NB2019*" in found["sentence"]
        assert self.findings(owner, workshop, "kits") == [found]

    def test_kits_for_different_variants_or_days_do_not(self, workshop, owner):
        other = make_kit("KIT-FKM", [])
        declare(owner, workshop.kit, workshop.pump, variant={"elastomer": "EPDM"})
        declare(owner, other, workshop.pump, variant={"elastomer": "FKM"})
        assert self.findings(owner, workshop) == []
        declare(owner, other, workshop.pump, variant={"elastomer": "EPDM"}, valid_from="2027-01-01")
        assert self.findings(owner, workshop, on="?on=2026-12-31") == []
        assert [one["kind"] for one in self.findings(owner, workshop, on="?on=2027-01-01")] == ["coverage-overlap"]

    def test_a_gap_names_the_pumps_in_it_and_only_those_of_ones_sites(self, cast, workshop, owner):
        other = make_kit("KIT-LATE", [])
        declare(owner, workshop.kit, workshop.pump, serial_to="NB2018*")
        declare(owner, other, workshop.pump, serial_from="NB2020*")
        (found,) = self.findings(owner, workshop)
        assert found["kind"] == "coverage-gap"
        assert (found["pump_count"], found["pumps"][0]["tag"]) == (1, "P-117")
        assert found["sentence"].endswith("serials after NB2018* and before NB2020*.")
        (stranger,) = self.findings(hands(cast)["stranger"], workshop)
        assert (stranger["pump_count"], stranger["pumps"]) == (0, [])

    def test_beyond_the_ranges_only_pumps_that_are_there_are_told(self, workshop, owner):
        declare(owner, workshop.kit, workshop.pump, serial_from="NB2019*", serial_to="NB2021*")
        assert self.findings(owner, workshop) == []
        Coverage.objects.update(serial_from="NB2020*")
        (found,) = self.findings(owner, workshop)
        assert found["pumps"][0]["serial_number"] == "NB2019-0117"

    def test_positions_of_one_role_that_ask_for_two_things_are_told(self, workshop, owner):
        facts = {"pump_model_id": workshop.pump.pump_model_id, "role_id": "bearing-de", "quantity": 1}
        WearPosition.objects.create(**facts, part_number="BRG-OTHER", serial_from="NB2021*", variant={"seal": "x"})
        (found,) = self.findings(owner, workshop)
        assert (found["kind"], found["scope"]) == ("position-overlap", "bearing-de")
        assert "BRG-OTHER" in found["sentence"]
        WearPosition.objects.filter(part_number="BRG-6308").update(serial_to="NB2020*")
        assert self.findings(owner, workshop) == []
