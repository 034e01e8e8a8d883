"""The invented operator's files: same day, same bytes; counts; shelves never below zero; the story they tell."""

import csv
import datetime
from collections import Counter
from decimal import Decimal

import pytest
import yaml

from assets.calculations.part_specifications import parse_specification
from jobs.calculations.limits import resolve
from jobs.calculations.procedure_findings import findings
from jobs.operations.procedure_soundness import unsound_places
from kits.calculations.replenishment_working import ReplenishmentInputs, plan_replenishment
from kits.calculations.storage_life import parse_cure, years_after
from services.demo.operator_files import kind_of, render

TODAY = datetime.date(2026, 11, 25)


@pytest.fixture(scope="module")
def files(tmp_path_factory):
    return render(tmp_path_factory.mktemp("operator"), TODAY)


@pytest.fixture(scope="module")
def rows(files):
    found = {}
    for path in files:
        if path.suffix == ".csv":
            with path.open(encoding="utf-8", newline="") as file:
                found[kind_of(path)] = list(csv.DictReader(file))
    return found


@pytest.fixture(scope="module")
def procedures(files):
    return [yaml.safe_load(one.read_text(encoding="utf-8")) for one in files if kind_of(one) == "procedures"]


def shelf_balances(rows):
    """What lies where after every file, and the lowest that any shelf ever held."""
    shelves: Counter = Counter()
    lowest = 0
    events = sorted([*rows["opening-stock"], *rows["movements"]], key=lambda row: row["occurred_at"])
    for row in events:
        place = row["site"], row["bin"], row["item"], row["revision"], row["lot"], row["condition"]
        shelves[place] += int(row["quantity"])
        lowest = min(lowest, shelves[place])
    return shelves, lowest


def test_the_same_day_gives_the_same_bytes(files, tmp_path):
    again = render(tmp_path / "again", TODAY)
    assert [one.name for one in again] == [one.name for one in files]
    assert all(one.read_bytes() == other.read_bytes() for one, other in zip(again, files, strict=True))


def test_the_operator_has_the_size_it_should(rows, procedures):
    assert len(rows["sites"]) == 6
    assert len({row["time_zone"] for row in rows["sites"]}) == 2
    assert len(rows["makers"]) == 3
    assert len(rows["pump-models"]) == 14
    assert len(rows["pumps"]) == 121
    assert 200 <= len(rows["parts"]) <= 240
    assert 28 <= len(rows["kits"]) <= 34
    assert len(rows["past-jobs"]) == 14
    assert len(procedures) == 4


def test_files_are_numbered_in_the_order_of_loading(files):
    loaded = [one.name for one in files if kind_of(one)]
    assert loaded == sorted(loaded)
    assert {one.name for one in files if not kind_of(one)} == {"people.yaml", "expected_blemishes.yaml"}


def test_every_specification_is_one_of_ours(rows):
    for row in [*rows["parts"], *rows["wear-positions"]]:
        read = parse_specification(row["category"], row["specification"])
        assert read.designation() == row["specification"]


def test_wear_positions_ask_for_parts_that_are_listed(rows):
    parts = {row["number"] for row in rows["parts"]}
    assert {row["part_number"] for row in rows["wear-positions"]} <= parts
    assert {row["part"] for row in rows["kit-lines"]} <= parts


def test_what_rows_refer_to_stands_in_the_other_files(rows):
    items = {(row["number"], row["revision"]) for row in rows["kits"]} | {(row["number"], "") for row in rows["parts"]}
    lots = {(row["item"], row["revision"], row["lot"]) for row in rows["lots"]}
    bins = {(row["site"], row["code"]) for row in rows["bins"]}
    suppliers = {row["code"] for row in rows["suppliers"]}
    for kind in ("lots", "opening-stock", "movements", "orders", "supplier-terms"):
        assert {(row["item"], row["revision"]) for row in rows[kind]} <= items, kind
    for kind in ("opening-stock", "movements"):
        assert {(row["item"], row["revision"], row["lot"]) for row in rows[kind]} <= lots
        assert {(row["site"], row["bin"]) for row in rows[kind] if row["bin"]} <= bins
    assert {row["supplier"] for row in [*rows["orders"], *rows["supplier-terms"]]} <= suppliers


@pytest.mark.parametrize("today", [TODAY, datetime.date(2027, 3, 1), datetime.date(2028, 2, 29)])
def test_no_shelf_ever_holds_less_than_nothing(today, tmp_path):
    found = {}
    for path in render(tmp_path, today):
        if path.suffix == ".csv":
            with path.open(encoding="utf-8", newline="") as file:
                found[kind_of(path)] = list(csv.DictReader(file))
    shelves, lowest = shelf_balances(found)
    assert lowest == 0
    assert sum(shelves.values()) > 200
    assert max(row["occurred_at"] for row in found["movements"]) < today.isoformat()


def test_demand_is_intermittent_over_three_years(rows):
    months = Counter(
        (row["site"], row["item"], row["occurred_at"][:7]) for row in rows["movements"] if row["kind"] == "issue"
    )
    kept = {(site, item) for site, item, _ in months}
    assert len(kept) > 100
    assert len(months) / len(kept) < 12
    assert len({month for _, _, month in months}) == 36


def test_a_lot_is_received_after_its_cure(rows):
    for row in rows["lots"]:
        if row["cure_date"]:
            assert parse_cure(row["cure_date"]) <= datetime.date.fromisoformat(row["received_on"])


def lot_of(rows, number):
    return next(row for row in rows["lots"] if row["lot"] == number)


def test_the_heat_plant_has_one_good_kit_and_one_that_is_out_of_date(rows):
    shelves, _ = shelf_balances(rows)
    there = {place: held for place, held in shelves.items() if place[0] == "heat-plant" and place[2] == "FK-L100-E"}
    # EPDM keeps ten years from cure: ISO 2230:2002, group C.
    until = {
        place: years_after(parse_cure(lot_of(rows, place[4])["cure_date"]), 10) for place, held in there.items() if held
    }
    assert sorted(held for held in there.values() if held) == [1, 1]
    assert sorted(one >= TODAY for one in until.values()) == [False, True]
    assert max(until.values()) > TODAY + datetime.timedelta(days=365)


def test_the_central_store_has_three_of_it_and_one_is_on_order(rows):
    shelves, _ = shelf_balances(rows)
    held = sum(count for place, count in shelves.items() if place[0] == "central-store" and place[2] == "FK-L100-E")
    order = next(row for row in rows["orders"] if row["item"] == "FK-L100-E")
    assert held == 3
    assert int(order["quantity"]) - int(order["received"]) == 1
    assert (order["site"], order["expected_on"]) == ("heat-plant", (TODAY + datetime.timedelta(days=40)).isoformat())


@pytest.mark.parametrize("today", [TODAY, datetime.date(2027, 1, 1), datetime.date(2027, 5, 31)])
def test_taking_the_last_good_kit_brings_the_plant_to_its_reorder_point(today, tmp_path):
    folder = {kind_of(path): path for path in render(tmp_path, today)}

    def read(kind):
        with folder[kind].open(encoding="utf-8", newline="") as file:
            return [row for row in csv.DictReader(file) if row["item"] == "FK-L100-E"]

    (terms,), (order,) = read("supplier-terms"), read("orders")
    here = [row for row in read("movements") if row["site"] == "heat-plant"]
    needs = [
        (datetime.date.fromisoformat(row["occurred_at"][:10]), -Decimal(row["quantity"]))
        for row in here
        if row["kind"] == "issue"
    ]
    opened = min(datetime.date.fromisoformat(row["occurred_at"][:10]) for row in read("opening-stock"))
    assert sum(quantity for _, quantity in needs) == 18
    assert (terms["lead_time_days"], terms["lead_time_sd_days"]) == ("42", "9")
    assert (terms["minimum"], terms["multiple"]) == ("2", "2")

    def plan(usable):
        return plan_replenishment(
            ReplenishmentInputs(
                as_of=today,
                kept_since=opened,
                needs=tuple(needs),
                usable=Decimal(usable),
                held_for_jobs=Decimal(0),
                lots=((None, Decimal(usable)),),
                claims=(),
                on_order=((datetime.date.fromisoformat(order["expected_on"]), Decimal(1)),),
                lead_time_days=Decimal(terms["lead_time_days"]),
                lead_time_sd_days=Decimal(terms["lead_time_sd_days"]),
                minimum=Decimal(terms["minimum"]),
                multiple=Decimal(terms["multiple"]),
                price=Decimal(terms["price"]),
                order_cost=Decimal(terms["order_cost"]),
                fill_rate=Decimal("0.95"),
                storage_years=10,
            )
        )

    assert plan(1).quantity == 0
    after = plan(0)
    assert after.position.total == after.point.level == 1
    assert after.quantity == 4


def test_kits_of_the_story_differ_in_one_thing_each(rows):
    parts = {row["number"]: row for row in rows["parts"]}
    lines: dict[str, dict[str, dict[str, str]]] = {}
    for row in rows["kit-lines"]:
        lines.setdefault(row["kit"], {})[row["role"]] = parts[row["part"]]
    full = lines["FK-L100-E"]
    assert full["bearing-de"]["specification"] == "6308/C3"
    assert full["casing-o-ring"]["specification"].endswith("EPDM 70")
    assert set(full) - set(lines["FK-L100-X"]) == {"bearing-de"}
    assert {role for role in full if lines["FK-L100-N"][role] != full[role]} == {
        "shaft-seal", "sleeve-o-ring", "casing-o-ring",
    }  # fmt: skip
    assert lines["FK-L100-N"]["casing-o-ring"]["specification"].endswith("NBR 70")
    (role,) = (role for role in full if lines["FK-L100-W"][role] != full[role])
    pair = lines["FK-L100-W"][role]["number"], full[role]["number"]
    assert pair in {
        (row["old_number"], row["new_number"]) for row in rows["supersessions"] if row["both_ways"] == "yes"
    }
    assert set(lines["FK-L100-SE"]) < set(full)


def test_the_two_pumps_of_the_story_are_alike(rows):
    pumps = {row["tag"]: row for row in rows["pumps"]}
    one, other = pumps["P-117"], pumps["P-118"]
    for column in ("site", "model", "elastomer", "fluid", "temperature_max_c", "state"):
        assert one[column] == other[column], column
    assert (one["site"], one["elastomer"], one["temperature_max_c"]) == ("heat-plant", "EPDM", "90")
    model = next(row for row in rows["pump-models"] if row["external_id"] == one["model"])
    assert model["configuration"] == "long-coupled-back-pull-out"


def test_the_plant_has_all_instruments_in_calibration_and_one_dial_indicator_overdue(rows, procedures):
    wanted = {
        asked["instrument_type"]
        for one in procedures
        if one["code"] == "OVERHAUL-PULL-OUT"
        for section in one["sections"]
        for step in section["steps"]
        for asked in step.get("characteristics", [])
    }
    soon = (TODAY + datetime.timedelta(days=90)).isoformat()
    here = [row for row in rows["instruments"] if row["site"] == "heat-plant"]
    assert wanted <= {row["type"] for row in here if row["calibration_due"] > soon}
    overdue = [row["type"] for row in here if row["calibration_due"] < TODAY.isoformat()]
    assert overdue == ["dial-indicator"]


def test_hour_meters_only_run_forwards(rows):
    last: dict[str, Decimal] = {}
    for row in sorted(rows["running-hours"], key=lambda row: (row["pump"], row["read_at"])):
        hours = Decimal(row["hours"].replace(",", "."))
        assert hours >= last.get(row["pump"], Decimal(0))
        last[row["pump"]] = hours


def test_procedures_are_sound_and_begin_with_making_safe(procedures):
    assert len({one["configuration"] for one in procedures}) == 4
    for one in procedures:
        assert unsound_places(one) == []
        safe, *rest = one["sections"]
        assert safe["section"] == "make-safe"
        assert all(
            step["signal_word"] in {"danger", "warning", "caution"} and step["caution"] for step in safe["steps"]
        )
        steps = [step for section in rest for step in section["steps"]]
        held = [step for step in steps if step.get("hold_point")]
        assert len(held) == 2
        assert all(step["look_at"] for step in held)
        assert "guard" in held[-1]["title"]
        assert len(steps) + len(safe["steps"]) in range(35, 61)
        assert [found.code for found in findings(one)] == ["no-limits"]
        assert "local codes" in one["scope_words"]


# ANSI Z535.6-2011 and ISO 3864-2:2016: a notice is of things alone; caution is of slight injuries, warning and danger
# are of grave ones (value from memory).
OF_THINGS = ("leaks within days", "is renewed, not wiped", "swells in mineral oil", "harden or run out")
GRAVE = (
    "lame near", "can burst", "jump off", "break when struck", "while it turns", "turning shaft", "hot hubs",
    "hot rings", "hot parts", "under the load", "let go suddenly", "lungs", "can blow out",
)  # fmt: skip


def test_signal_words_say_how_badly_somebody_may_be_hurt(procedures):
    for one in procedures:
        for step in (step for section in one["sections"] for step in section["steps"]):
            word, said = step.get("signal_word"), (step.get("caution") or "").lower()
            if any(sign in said for sign in OF_THINGS):
                assert word == "notice", (one["code"], step["number"])
            if any(sign in said for sign in GRAVE):
                assert word in {"warning", "danger"}, (one["code"], step["number"])


def _places(document, *words):
    """Numbers of the steps whose title or instruction holds all the words, in their order."""
    steps = [step for section in document["sections"] for step in section["steps"]]
    return [
        step["number"]
        for step in steps
        if all(word in f"{step['title']} {step['instruction']}".lower() for word in words)
    ]


def test_steps_stand_in_the_order_of_the_bench(procedures):
    """Common practice, no source."""
    by_code = {one["code"]: one for one in procedures}
    for one in procedures:
        assert _places(one, "locks off", "stays locked")[0] == 505
        assert all("sum of opposite sides" not in str(step) for step in one["sections"])
    pull_out, packed = by_code["OVERHAUL-PULL-OUT"], by_code["OVERHAUL-PACKED-GLAND"]
    # A seal inside the chamber: seat and cover first, the rotating unit from the impeller's side.
    order = [_places(pull_out, word)[-1] for word in ("press the seat in", "cover on its spigot", "rotating unit on")]
    assert order == sorted(order)
    assert _places(pull_out, "rotating unit and sleeve off", "then the cover") == [130]
    for one in (pull_out, packed):
        off, on = _places(one, "half coupling off")[0], _places(one, "half coupling with its key")[0]
        assert off < on < _places(one, "align the coupling")[0]
        # Moving the motor for it afterwards would undo the alignment.
        assert _places(one, "align the coupling", "on the drawing") == [420]
    assert _places(packed, "fit impeller rings")[0] < _places(packed, "balance the rotor")[0]
    twin = _places(by_code["OVERHAUL-IN-LINE"], "closed valves of a twin")[0]
    assert twin < _places(by_code["OVERHAUL-IN-LINE"], "lift motor and impeller out")[0]


def test_both_ways_in_which_shafts_lie_off_each_other_are_judged_where_there_is_a_coupling_to_align(procedures):
    for one in procedures:
        asked = {
            each["code"]
            for section in one["sections"]
            for step in section["steps"]
            for each in step.get("characteristics", [])
        }
        coupled = one["configuration"] in {"long-coupled-back-pull-out", "between-bearings"}
        assert ({"coupling-offset", "coupling-angularity"} <= asked) == coupled
        assert {"vibration-drive-end", "bearing-temperature"} <= asked


def test_limits_of_the_pull_out_pump_resolve_for_the_pump_of_the_story(procedures):
    document = next(one for one in procedures if one["code"] == "OVERHAUL-PULL-OUT")
    data = {
        "bearing_bore_mm": Decimal(40), "rated_power_kw": Decimal(30), "shaft_diameter_at_seal_mm": Decimal(43),
        "rated_speed_rpm": Decimal(2900),
    }  # fmt: skip
    found = {
        asked["code"]: resolve(asked["limits"], data)
        for section in document["sections"]
        for step in section["steps"]
        for asked in step.get("characteristics", [])
    }
    # 40 k5 after ISO 286-2:2010: +13/+2 micrometres.
    assert (found["bearing-seat-diameter"].lower, found["bearing-seat-diameter"].upper) == (
        Decimal("40.002"), Decimal("40.013"),
    )  # fmt: skip
    assert found["shaft-run-out"].upper == Decimal("0.05")
    # Two-pole speed, short flexible coupling: common practice, no source.
    assert (found["coupling-offset"].lower, found["coupling-offset"].upper) == (Decimal("-0.06"), Decimal("0.06"))


def test_what_wears_is_measured_at_a_step_that_touches_its_position(procedures):
    roles = {
        asked["code"]: step.get("positions", [])
        for one in procedures
        for section in one["sections"]
        for step in section["steps"]
        for asked in step.get("characteristics", [])
    }
    assert "wear-ring-casing" in roles["wear-ring-gap"]
    assert roles["seal-face-flatness"] == ["shaft-seal"]
    assert roles["bearing-seat-diameter"] == ["bearing-de"]


def test_only_the_match_marks_of_the_pull_out_pump_must_be_photographed(procedures):
    wanted = [
        (one["code"], step["number"])
        for one in procedures
        for section in one["sections"]
        for step in section["steps"]
        for photo in step.get("photos", [])
        if not isinstance(photo, dict) or photo.get("needed", True)
    ]
    assert wanted == [("OVERHAUL-PULL-OUT", 116)]


def test_past_jobs_took_their_kits_off_the_shelf(rows):
    issues = {row["job"]: row for row in rows["movements"] if row["job"]}
    assert set(issues) == {row["number"] for row in rows["past-jobs"]}
    for row in rows["past-jobs"]:
        issue = issues[row["number"]]
        assert (issue["item"], issue["revision"], issue["lot"]) == (row["kit"], row["kit_revision"], row["lot"])


def test_people_hold_grants_at_sites_that_exist(files, rows):
    people = yaml.safe_load(next(one for one in files if one.name == "people.yaml").read_text())["people"]
    sites = {row["code"] for row in rows["sites"]}
    logins = {one["login"] for one in people}
    assert {grant["site"] for one in people for grant in one["grants"] if "site" in grant} <= sites
    assert {row[who] for row in rows["past-jobs"] for who in ("fitter", "supervisor")} <= logins


def test_blemishes_stand_where_they_are_said_to(files):
    told = yaml.safe_load(next(one for one in files if one.name == "expected_blemishes.yaml").read_text())
    paths = {one.name: one for one in files}
    assert {one["says"].split()[0] for one in told["noted"]} == {"spaces", "decimal", "superseded"}
    assert len(told["refused"]) == 1
    for one in [*told["noted"], *told["refused"]]:
        with paths[one["file"]].open(encoding="utf-8", newline="") as file:
            row = list(csv.DictReader(file))[one["row"] - 2]
        assert row[one["column"]] == one["value"]
