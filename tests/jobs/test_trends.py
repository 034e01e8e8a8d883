"""How a characteristic went from overhaul to overhaul, at one pump and at all of its model; lives of parts: the API."""

import datetime
from xml.etree import ElementTree

import numpy as np
import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from scipy.stats import linregress

from assets.models import Pump
from jobs.models import Finding, FittedPart, Job, Nonconformity
from tests.measured import RING, TODAY, ago, fit_ring, measure, overhaul, ring_procedure, run_evenly
from tests.overhauls import open_workshop

pytestmark = pytest.mark.django_db
# Days ago and the gap found; the pump runs 20 hours a day since 1000 days.
FOUND = [(800, "0.171"), (600, "0.192"), (400, "0.210"), (100, "0.238")]


@pytest.fixture
def workshop(cast):
    made = open_workshop(cast)
    ring_procedure(cast)
    return made


@pytest.fixture
def pump(workshop):
    run_evenly(workshop.pump, 1000)
    return Pump.objects.get(pk=workshop.pump.pk)


@pytest.fixture
def worn(cast, workshop, pump):
    for days, gap in FOUND:
        measure(cast, workshop, overhaul(cast, workshop, pump, days), gap)
    return pump


def another(pump, tag, *, site=None, days=1000):
    made = Pump.objects.create(
        site=site or pump.site, tag=tag, serial_number=f"S-{tag}", pump_model=pump.pump_model, fluid=pump.fluid,
        temperature_min_c=60, temperature_max_c=90, criticality="vital", variant=pump.variant,
    )  # fmt: skip
    if days:
        run_evenly(made, days)
    return Pump.objects.get(pk=made.pk)


def test_a_gap_grows_with_running_hours_and_its_limit_has_a_day(hand, worn):
    """Against scipy.stats.linregress, scipy 1.17."""
    answer = hand["fitter"].get(f"pumps/{worn.pk}/trends/wear-ring-gap")
    (trend,) = answer["trends"]
    line = linregress([20 * (1000 - days) for days, _ in FOUND], [float(gap) for _, gap in FOUND])
    assert answer["hours_a_day"] == 20.0
    assert [one["state"] for one in trend["points"]] == ["as-found-and-left"] * 4
    assert [one["age_hours"] for one in trend["points"]] == pytest.approx([4000, 8000, 12000, 18000], abs=20)
    assert trend["fit"]["rate"] == pytest.approx(1000 * line.slope, rel=1e-3)
    left = (0.30 - line.intercept) / line.slope - 20_000
    assert trend["at_limit"]["hours"] == pytest.approx(left, abs=30)
    day = TODAY + datetime.timedelta(days=int(left / 20))
    assert abs((datetime.date.fromisoformat(trend["at_limit"]["day"]) - day).days) <= 2
    assert trend["at_limit"]["earliest_day"] < trend["at_limit"]["day"] < trend["at_limit"]["latest_day"]
    assert "The limit of 0.3 mm is reached in" in trend["words"]


def test_every_characteristic_of_a_pump_is_listed_by_its_code(cast, workshop, hand, worn):
    measure(cast, workshop, Job.objects.get(number="M-P-117-100"), "0.02", step=20, code="shaft-run-out", upper="0.05")
    answer = hand["reader"].get(f"pumps/{worn.pk}/trends")
    assert [one["code"] for one in answer["trends"]] == ["shaft-run-out", "wear-ring-gap"]
    assert answer["trends"][0]["outcome"] == "too-few"
    assert answer["trends"][0]["words"].startswith("Too few to tell: one value in all")


def test_a_new_ring_begins_anew_from_the_day_it_was_fitted(cast, workshop, hand, worn):
    job = overhaul(cast, workshop, worn, 50)
    measure(cast, workshop, job, "0.245")
    measure(cast, workshop, job, "0.150", step=55)
    fit_ring(workshop, job)
    (trend,) = hand["fitter"].get(f"pumps/{worn.pk}/trends/wear-ring-gap")["trends"]
    assert [one["because"] for one in trend["segments"]] == ["new", "renewed"]
    assert [one["state"] for one in trend["points"][-2:]] == ["as-found", "as-left"]
    assert trend["points"][-1]["age_hours"] == 0
    assert trend["age_hours"] == pytest.approx(1000, abs=5)
    assert (trend["fit"]["points"], trend["fit"]["segments"]) == (6, 2)
    assert trend["fit"]["level"] == pytest.approx(0.150)
    assert trend["now"]["expected"] == pytest.approx(0.150 + trend["fit"]["rate"], rel=1e-3)


def test_a_seal_that_is_renewed_does_not_reset_the_ring(cast, workshop, hand, worn):
    fit_ring(workshop, Job.objects.get(number="M-P-117-400"), role="shaft-seal")
    (trend,) = hand["fitter"].get(f"pumps/{worn.pk}/trends/wear-ring-gap")["trends"]
    assert [one["because"] for one in trend["segments"]] == ["new"]


def test_limits_are_judged_as_they_stood(cast, workshop, hand, worn):
    measure(cast, workshop, overhaul(cast, workshop, worn, 10), "0.245", upper="0.25")
    (trend,) = hand["fitter"].get(f"pumps/{worn.pk}/trends/wear-ring-gap")["trends"]
    assert [one["upper"] for one in trend["points"]] == [0.3] * 4 + [0.25]
    assert trend["limit"] == 0.25


def test_what_reaches_no_limit_says_so(cast, workshop, hand, pump):
    for days, gap in FOUND:
        measure(cast, workshop, overhaul(cast, workshop, pump, days), gap, upper=None)
    (trend,) = hand["fitter"].get(f"pumps/{pump.pk}/trends/wear-ring-gap")["trends"]
    assert (trend["outcome"], trend["at_limit"]) == ("no-limit", None)
    assert "No limit reached on this trend" in trend["words"]


def test_a_pump_that_stands_has_hours_but_no_day(hand, worn):
    Pump.objects.filter(pk=worn.pk).update(state="standby")
    (trend,) = hand["fitter"].get(f"pumps/{worn.pk}/trends/wear-ring-gap")["trends"]
    assert trend["outcome"] == "stands-still"
    assert trend["at_limit"]["hours"] > 0
    assert trend["at_limit"]["day"] is None


def test_without_a_meter_the_hours_of_other_pumps_are_taken_and_it_says_so(cast, workshop, hand, worn):
    other = another(worn, "P-2", days=0)
    measure(cast, workshop, overhaul(cast, workshop, other, 100), "0.2")
    answer = hand["fitter"].get(f"pumps/{other.pk}/trends")
    assert (answer["hours_known"], answer["hours_a_day"]) == (False, 20.0)


def test_a_trend_is_drawn_with_its_words(cast, worn):
    answer = cast.client("reader").get(
        f"/api/v1/pumps/{worn.pk}/trends/wear-ring-gap", headers={"Accept": "image/svg+xml"}
    )
    assert answer.headers["Content-Type"] == "image/svg+xml"
    assert answer.headers["Vary"] == "Accept"
    picture = ElementTree.fromstring(answer.content)  # noqa: S314 our own text
    texts = "".join(picture.itertext())
    assert "P-117: Gap at the wear ring" in texts
    assert "upper limit 0.3 mm" in texts
    assert "The limit of 0.3 mm is reached in" in texts
    places = [
        float(one)
        for path in picture.iter("{http://www.w3.org/2000/svg}path")
        for one in (path.get("d") or "")[1:].split()[:2]
        if one[0].isdigit()
    ]
    assert min(places) >= 0


def test_what_is_not_measured_is_not_there(cast, hand, worn):
    assert hand["fitter"].get(f"pumps/{worn.pk}/trends/gap", status=404)["code"] == "not-found"
    assert hand["stranger"].get(f"pumps/{worn.pk}/trends/wear-ring-gap", status=404)["code"] == "not-found"
    refused = hand["fitter"].get(f"pumps/{worn.pk}/trends?months=3", status=400)
    assert refused["code"] == "unknown-parameter"


def test_what_is_measured_of_a_cancelled_job_is_left_out(cast, workshop, hand, worn):
    measure(cast, workshop, overhaul(cast, workshop, worn, 30), "0.9")
    Job.objects.filter(number="M-P-117-30").update(state="cancelled")
    (trend,) = hand["fitter"].get(f"pumps/{worn.pk}/trends/wear-ring-gap")["trends"]
    assert len(trend["points"]) == 4


def fleet_of(cast, workshop, pump, rates, *, site=None):
    made = []
    for number, rate in enumerate(rates):
        one = another(pump, f"{'N' if site is None else 'S'}-{number}", site=site)
        for place, days in enumerate((800, 600, 400, 100)):
            gap = 0.15 + rate * 20 * (1000 - days) / 1000 + (0.0005 if place % 2 else 0)
            measure(cast, workshop, overhaul(cast, workshop, one, days), f"{gap:.6f}")
        made.append(one)
    return made


def test_a_pump_is_seen_among_all_pumps_of_its_model(cast, workshop, hand, worn):
    """Quartiles by numpy.quantile; pumps at other sites count and are not named."""
    mine = fleet_of(cast, workshop, worn, [0.002, 0.004])
    fleet_of(cast, workshop, worn, [0.006, 0.009], site=cast.south)
    answer = hand["fitter"].get(f"pump-models/{worn.pump_model_id}/trends/wear-ring-gap")
    assert (answer["measured"], answer["population"]["pumps"]) == (5, 5)
    assert [one["tag"] for one in answer["pumps"]] == ["N-0", "N-1", "P-117"]
    rates = {one["tag"]: one["rate"] for one in answer["pumps"]}
    assert rates["N-0"] == pytest.approx(0.002, rel=0.05)
    whole = np.array([*rates.values(), 0.006, 0.009])
    assert answer["population"]["median"] == pytest.approx(np.quantile(whole, 0.5), rel=0.02)
    assert answer["population"]["upper_quartile"] == pytest.approx(np.quantile(whole, 0.75), rel=0.02)
    assert (
        answer["population"]["lower_quartile"] < answer["population"]["pooled"] < answer["population"]["upper_quartile"]
    )
    stands = {one["tag"]: one["wears_more_than"] for one in answer["pumps"]}
    assert stands["N-0"] == pytest.approx(0.1)
    assert "of 5 pumps on which it is measured 5 tell" in answer["words"]
    assert str(mine[0].pk) in str(answer)


def test_the_statements_of_a_model_stay_the_same_for_many_pumps(cast, workshop, worn):
    client = cast.client("reader")

    def count():
        with CaptureQueriesContext(connection) as captured:
            assert client.get(f"/api/v1/pump-models/{worn.pump_model_id}/trends/wear-ring-gap").status_code == 200
        return len(captured)

    client.get("/api/v1/me")
    few = count()
    fleet_of(cast, workshop, worn, [0.002, 0.004, 0.005, 0.006])
    assert count() == few


def seal(workshop, pump, job, fitted, removed=None, *, condition="", out=None):
    return FittedPart.objects.create(
        pump=pump, role="shaft-seal", part=workshop.o_ring, quantity=1, job=job, fitted_at=ago(fitted),
        removed_at=None if removed is None else ago(removed), removed_by_job=out, removed_condition=condition,
    )  # fmt: skip


def test_seals_that_leaked_have_a_life_with_bounds_and_those_that_run_make_it_no_shorter(cast, workshop, hand, worn):
    """The hours of the seal example of lifelines and reliability 0.9.0: shape 2.8804, B10 5,145.3 h."""
    failed, running = (4200, 6100, 7800, 9500, 11200), (3000, 8000, 12000, 12000)
    for number, hours in enumerate(failed):
        one = another(worn, f"F-{number}")
        job = overhaul(cast, workshop, one, 900)
        seal(workshop, one, job, 900, 900 - hours / 20, condition="ELP", out=job)
    for number, hours in enumerate(running):
        one = another(worn, f"R-{number}")
        seal(workshop, one, overhaul(cast, workshop, one, hours / 20), hours / 20)
    answer = hand["fitter"].get(f"pump-models/{worn.pump_model_id}/lives")
    whole, leaks = answer["lives"]
    assert (whole["role"], whole["mode"], leaks["mode"]) == ("shaft-seal", "", "ELP")
    assert (leaks["failures"], leaks["censored"]) == (5, 4)
    assert leaks["shape"]["value"] == pytest.approx(2.8804, abs=2e-3)
    assert leaks["b10_hours"]["value"] == pytest.approx(5145.3, rel=1e-3)
    assert leaks["b10_hours"]["low"] < 5145 < leaks["b10_hours"]["high"]
    assert leaks["reading"] == "wear-out"


def test_a_part_renewed_with_nothing_said_against_it_did_not_fail(cast, workshop, hand, worn):
    for place in range(4):
        job = overhaul(cast, workshop, worn, 900 - 100 * place, number=f"S-{place}")
        fit_ring(workshop, job, role="shaft-seal")
    (found,) = hand["fitter"].get(f"pump-models/{worn.pump_model_id}/lives")["lives"]
    assert (found["failures"], found["censored"], found["reading"]) == (0, 4, "too-few")
    assert "Too few failures to tell" in found["words"]


def test_a_ring_that_a_nonconformity_had_replaced_did_fail(cast, workshop, hand, worn):
    first, second = (overhaul(cast, workshop, worn, days, number=f"S-{days}") for days in (900, 500))
    for job in (first, second):
        fit_ring(workshop, job)
    Nonconformity.objects.create(
        job=second, role=RING, description="Worn through.", raised_by=cast.people["fitter"], disposition="replace"
    )
    (found,) = hand["fitter"].get(f"pump-models/{worn.pump_model_id}/lives")["lives"]
    assert (found["role"], found["failures"], found["censored"]) == (RING, 1, 1)


def test_seals_that_leaked_by_different_mechanisms_leaked_all_the_same(cast, workshop, hand, worn):
    """One mode of ISO 14224 is one way of failing, whatever brought it about: else none is ever told."""
    for number, (hours, code) in enumerate([(4200, "ELP/2.4"), (6100, "ELP/1.1"), (7800, "ELP"), (9500, "VIB/1.2")]):
        one = another(worn, f"F-{number}")
        job = overhaul(cast, workshop, one, 900)
        seal(workshop, one, job, 900, 900 - hours / 20, condition=code, out=job)
    answer = hand["fitter"].get(f"pump-models/{worn.pump_model_id}/lives")
    by_mode = {one["mode"]: (one["failures"], one["censored"]) for one in answer["lives"]}
    assert by_mode == {"": (4, 0), "ELP": (3, 1), "VIB": (1, 3)}
    leaks = next(one for one in answer["lives"] if one["mode"] == "ELP")
    assert leaks["words"].startswith("shaft seal, what is pumped leaks to the outside (ELP): 3 failed, 1 lasted longer")


@pytest.mark.parametrize(
    ("reason", "failures"), [("failed", 1), ("worn", 1), ("", 1), ("aged", 0), ("disturbed", 0), ("preventive", 0)]
)
def test_a_part_that_was_sound_when_it_was_replaced_did_not_fail(cast, workshop, hand, worn, reason, failures):
    job = overhaul(cast, workshop, worn, 900)
    seal(workshop, worn, job, 900, 600, condition="OTH", out=job)
    Finding.objects.create(
        job=job, pump=worn, role="shaft-seal", observed="Looked over.", mode="OTH", replacement_reason=reason,
        occurred_at=ago(600), by=cast.people["fitter"],
    )  # fmt: skip
    found = hand["fitter"].get(f"pump-models/{worn.pump_model_id}/lives")["lives"][0]
    assert (found["failures"], found["censored"]) == (failures, 1 - failures)


def test_what_was_said_of_a_part_counts_as_it_was_corrected(cast, workshop, hand, worn):
    job = overhaul(cast, workshop, worn, 900)
    seal(workshop, worn, job, 900, 600, condition="ELP", out=job)
    said = {
        "job": job, "pump": worn, "role": "shaft-seal", "observed": "Seat chipped.", "mode": "ELP",
        "by": cast.people["fitter"],
    }  # fmt: skip
    first = Finding.objects.create(**said, replacement_reason="preventive", occurred_at=ago(600))
    Finding.objects.create(**said, replacement_reason="failed", occurred_at=ago(600), corrects=first)
    found = hand["fitter"].get(f"pump-models/{worn.pump_model_id}/lives")["lives"][0]
    assert (found["failures"], found["censored"]) == (1, 0)


def test_a_characteristic_that_was_measured_in_millimetres_and_later_in_inches_is_one_trend(cast, workshop, hand, worn):
    # 1 in = 25.4 mm exactly: 0.254 mm are 0.01 in.
    measure(cast, workshop, overhaul(cast, workshop, worn, 10), "0.01", upper="0.012", unit="in")
    (trend,) = hand["fitter"].get(f"pumps/{worn.pk}/trends/wear-ring-gap")["trends"]
    assert trend["unit"] == "in"
    assert [round(25.4 * one["value"], 6) for one in trend["points"]] == [0.171, 0.192, 0.21, 0.238, 0.254]
    assert "in in 1000 h" in trend["words"]


def test_a_pump_that_replaced_another_begins_with_no_trend_of_its_own(cast, workshop, hand, worn):
    successor = another(worn, "P-117-new", days=100)
    assert hand["fitter"].get(f"pumps/{successor.pk}/trends")["trends"] == []
    measure(cast, workshop, overhaul(cast, workshop, successor, 50), "0.150")
    (trend,) = hand["fitter"].get(f"pumps/{successor.pk}/trends")["trends"]
    assert [one["value"] for one in trend["points"]] == [0.15]
    assert trend["words"] == "Too few to tell: one value in all, 1 since the pump was new."


def test_temperatures_and_torques_are_named_as_people_write_them(cast, workshop, hand, worn):
    other = another(worn, "P-118")
    for days, torque in FOUND:
        measure(cast, workshop, overhaul(cast, workshop, other, days), torque, unit="N*m")
    (trend,) = hand["fitter"].get(f"pumps/{other.pk}/trends/wear-ring-gap")["trends"]
    assert "N·m in 1000 h" in trend["words"]
    assert "The limit of 0.3 N·m is reached in" in trend["words"]


def test_one_pump_alone_is_no_population(cast, workshop, hand, worn):
    answer = hand["fitter"].get(f"pump-models/{worn.pump_model_id}/trends/wear-ring-gap")
    rate = answer["population"]["median"]
    assert answer["words"] == (
        f"{answer['code']}: of 1 pump on which it is measured one tells how fast it wears: {rate:.4g} mm in 1000 h."
    )
