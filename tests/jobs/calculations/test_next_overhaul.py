"""When a pump should be overhauled next, and which of four reasons decides."""

import datetime
import math

import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.stats import linregress, weibull_min
from scipy.stats import t as student

from jobs.calculations.next_overhaul import (
    Interval,
    PumpNow,
    Watched,
    advise,
    age_of_risk,
    chance_within,
    months_on,
)
from jobs.calculations.trend_reading import chances_ahead, read_trend
from jobs.calculations.wear_points import Segment, Taken, WearPoint
from jobs.calculations.weibull import WeibullFit

TODAY = datetime.date(2026, 3, 2)
SHOP = Interval(36, 16_000, 0.10, 6, "common practice, no source", "")
HOURS, GAPS = [0.0, 4000.0, 8000.0, 12000.0], [0.15, 0.171, 0.192, 0.21]


def life(shape, scale):
    return WeibullFit(shape, scale, 20, 20, (0.01, 0.0, 0.01))


def pump(*, begun=datetime.date(2024, 9, 1), age=9000.0, per_day=20.0):
    return PumpNow(begun, True, age, per_day)


def trend(ages=HOURS, gaps=GAPS, *, ran=13_000.0, per_day=20.0, upper=0.30, lower=None):
    now = datetime.datetime(2026, 1, 1, tzinfo=datetime.UTC)
    points = [
        WearPoint(
            0, age, "as-found-and-left", Taken(f"J{age}", now, age, "", 1, gap, 0.01, lower, upper, "mm", "accept")
        )
        for age, gap in zip(ages, gaps, strict=True)
    ]
    return read_trend([Segment(0, None, 0.0, "new")], points, ran=ran, per_day=per_day, today=TODAY)


def gap(reading):
    return Watched("wear-ring-gap", "Gap at the wear ring", reading)


def kinds(advice):
    return {one.kind: one for one in advice.candidates}


def test_the_earliest_of_the_four_decides_and_all_are_shown():
    advice = advise(pump(), SHOP, [gap(trend())], life(3.0, 40_000), today=TODAY)
    days = {one.kind: one.day for one in advice.candidates}
    assert list(days) == ["calendar", "hours", "wear", "risk"]
    assert days["calendar"] == datetime.date(2027, 9, 1)
    assert days["hours"] == TODAY + datetime.timedelta(days=350)
    assert advice.day == min(day for day in days.values() if day)
    assert advice.decided_by == "hours"
    assert "for running hours: 9000 h of 16000 h are run" in advice.words


def test_a_day_that_has_passed_is_overdue():
    advice = advise(pump(begun=datetime.date(2022, 1, 31)), SHOP, [], None, today=TODAY)
    assert (advice.decided_by, advice.day, advice.overdue) == ("calendar", datetime.date(2025, 1, 31), True)
    assert advice.words.startswith("It was due on 2025-01-31")


def test_a_pump_that_stands_has_only_the_calendar():
    advice = advise(pump(per_day=0.0), SHOP, [gap(trend(per_day=0.0))], life(3.0, 40_000), today=TODAY)
    assert [one.kind for one in advice.candidates if one.day] == ["calendar"]
    assert "not in service" in kinds(advice)["risk"].words


def test_nothing_known_is_said_and_never_guessed():
    advice = advise(PumpNow(None, False, math.nan, 20.0), SHOP, [], None, today=TODAY)
    assert (advice.day, advice.decided_by) == (None, None)
    assert advice.words == "Nothing tells when to overhaul it next."
    assert "Nobody knows how long it has run" in kinds(advice)["hours"].words


def test_without_an_interval_nobody_is_told_a_day():
    advice = advise(pump(), None, [gap(trend())], life(3.0, 40_000), today=TODAY)
    assert advice.day is None


def test_wear_is_advised_for_the_day_on_which_the_accepted_chance_is_used_up():
    """The age at which the upper band of 80 % meets the limit, by scipy.stats.linregress and brentq."""
    line = linregress(HOURS, GAPS)
    ages = np.array(HOURS)
    rest = np.array(GAPS) - line.intercept - line.slope * ages
    spread, width = math.sqrt(rest @ rest / 2), ((ages - ages.mean()) ** 2).sum()

    def over(age):
        error = spread * math.sqrt(1 + 1 / 4 + (age - ages.mean()) ** 2 / width)
        return line.intercept + line.slope * age + student.ppf(0.9, 2) * error - 0.30

    earliest = brentq(over, 0, 1e5)
    advice = advise(pump(begun=TODAY), SHOP, [gap(trend())], None, today=TODAY)
    wear = kinds(advice)["wear"]
    assert wear.day == TODAY + datetime.timedelta(days=math.floor((earliest - 13_000) / 20))
    assert wear.code == "wear-ring-gap"
    assert wear.words.startswith("Gap at the wear ring is at 0.3 mm by ")
    assert "with a chance of 10%" in wear.words
    assert trend().earliest_day < wear.day < trend().day


def test_where_wear_decides_the_words_say_what_wears_by_its_name():
    advice = advise(pump(begun=TODAY, age=0.0), SHOP, [gap(trend())], None, today=TODAY)
    assert advice.decided_by == "wear"
    assert advice.words.startswith(f"Next overhaul by {advice.day}, for wear: Gap at the wear ring is at 0.3 mm by ")
    assert "wear-ring-gap" not in advice.words


def test_the_risk_comes_to_what_is_accepted_where_scipys_law_says_so():
    """scipy.stats.weibull_min, scipy 1.17: 1 - sf(t + h) / sf(t)."""
    law, ahead = weibull_min(3.0, scale=40_000), 3652.5
    wanted = brentq(lambda age: 1 - law.sf(age + ahead) / law.sf(age) - 0.10, 100, 100_000)
    assert age_of_risk(0.0, ahead, 0.10, life(3.0, 40_000)) == pytest.approx(wanted)
    assert chance_within(6000, 2000, life(2.8804, 11_238.55)) == pytest.approx(0.1907, abs=1e-4)


def test_where_chances_do_not_grow_with_age_risk_gives_no_day():
    found = kinds(advise(pump(), SHOP, [], life(1.0, 400_000), today=TODAY))["risk"]
    assert found.day is None
    assert "does not grow with age" in found.words
    assert kinds(advise(pump(), SHOP, [], life(1.0, 4_000), today=TODAY))["risk"].day == TODAY
    assert age_of_risk(0.0, 100.0, 0.10, life(1.0001, 40_000)) is None


def test_a_trend_that_reaches_no_limit_says_so():
    assert trend(upper=None).outcome == "no-limit"
    assert "No limit reached on this trend" in trend(upper=None).words
    assert trend(gaps=[0.2, 0.19, 0.21, 0.2]).outcome == "steady"
    assert "no limit is reached on this trend" in trend(gaps=[0.2, 0.19, 0.21, 0.2]).words


def test_two_values_are_too_few_to_tell():
    found = trend(ages=[0.0, 4000.0], gaps=[0.15, 0.17])
    assert (found.outcome, found.day) == ("too-few", None)
    assert found.words == "Too few to tell: 2 values in all, 2 since the pump was new."


def test_a_part_beyond_its_limit_is_told_to_be_there_by_now():
    found = trend(ran=60_000.0)
    assert (found.outcome, found.day, found.earliest_day) == ("at-limit", TODAY, TODAY)
    assert chances_ahead(found, [100.0]) == [1.0]


def test_chances_of_wear_rise_to_one_half_on_the_expected_day():
    found = trend()
    rising = chances_ahead(found, [1000.0, found.hours_left, 50_000.0])
    assert rising == sorted(rising)
    assert rising[1] == pytest.approx(0.5, abs=0.01)


@pytest.mark.parametrize(
    ("day", "months", "later"),
    [
        (datetime.date(2024, 1, 31), 1, datetime.date(2024, 2, 29)),
        (datetime.date(2023, 11, 30), 3, datetime.date(2024, 2, 29)),
        (datetime.date(2024, 12, 15), 36, datetime.date(2027, 12, 15)),
    ],
)
def test_months_end_on_their_last_day(day, months, later):
    assert months_on(day, months) == later


@pytest.mark.parametrize(
    ("few", "many", "words"),
    [
        (1, 0, "No trend comes to a limit: one characteristic is measured on its parts, too seldom to tell."),
        (0, 2, "No trend comes to a limit: 2 characteristics are measured on its parts."),
        (2, 0, "No trend comes to a limit: 2 characteristics are measured on its parts, too seldom to tell."),
        (1, 2, "No trend comes to a limit: 3 characteristics are measured on its parts, 1 of them too seldom to tell."),
    ],
)
def test_why_wear_names_no_day_is_said_in_words(few, many, words):
    trends = [gap(trend(HOURS[:2], GAPS[:2]))] * few + [gap(trend(upper=None))] * many
    assert kinds(advise(pump(), SHOP, trends, None, today=TODAY))["wear"].words == words


def test_a_trend_that_tells_no_wear_says_so():
    steady = trend(gaps=[0.20, 0.19, 0.21, 0.20])
    assert steady.outcome == "steady"
    words = "Its interval holds zero: nothing tells that it wears, so no limit is reached on this trend."
    assert steady.words.endswith(words)
