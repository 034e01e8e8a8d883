"""Replays of demand agree with theory, and the policies see nothing ahead."""

import json

import numpy as np
import pytest
from django.core.management import CommandError, call_command
from scipy import stats

from kits.calculations.backtest import DefaultPolicy, TopUp, fixed_levels, replay, tuned_multiplier
from kits.calculations.demand_arrays import METHODS, PATTERNS, patterns, smooth
from kits.calculations.forecast_arrays import METHOD_NAMES, forecast_all
from kits.calculations.reorder_arrays import reorder_levels, stock_levels
from kits.calculations.reorder_point import LeadTimeDemand, fill_rate


def test_smoothing_gives_what_the_library_statsforecast_gives():
    # statsforecast 2.1.1, CrostonClassic, CrostonSBA, TSB, SES with 0.1; SBJ: Croston (1 - b / (2 - b)).
    rows = {
        (0, 0, 3, 0, 0, 0, 2, 0, 0, 1, 0, 4): (0.952365, 0.904747, 0.902241, 0.791488, 0.715324),
        (0, 0, 0, 0, 5, 0, 0, 0, 0, 0, 0, 0): (1, 0.95, 0.947368, 0.239148, 0.239148),
        (2, 0, 3, 0, 1, 0, 0, 0, 0, 0, 0, 0): (1.67227, 1.58866, 1.58425, 0.796761, 0.791677),
        (2, 1, 3, 2, 2, 4, 1, 2, 3, 2, 2, 1): (2.02401, 1.92281, 1.91749, 2.02401, 2.02401),
        (0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 2): (0.166667, 0.158333, 0.157895, 0.2, 0.2),
        (0,) * 12: (0, 0, 0, 0, 0),
    }
    assert smooth(np.array([[3]])).tsb[0] == 3
    rates = smooth(np.array(list(rows)).T)
    for place, expected in enumerate(rows.values()):
        got = [one[place] for one in (rates.croston, rates.sba, rates.sbj, rates.tsb, rates.ses)]
        assert got == pytest.approx(expected, abs=6e-6)


def test_months_before_an_item_was_kept_are_absent_and_not_zero():
    late = smooth(np.array([[9], [9], [2], [0], [3], [1]]), first=np.array([2]))
    assert late.tsb == pytest.approx(smooth(np.array([[2], [0], [3], [1]])).tsb)
    assert late.croston == pytest.approx(smooth(np.array([[2], [0], [3], [1]])).croston)


@pytest.mark.parametrize(
    ("series", "label"),
    [
        # Syntetos, Boylan, Croston 2005, J. Oper. Res. Soc. 56:495-503: cuts 1.32 and 0.49; on the border the upper.
        ([3, 17], "erratic"),
        ([3, 17, 0], "lumpy"),
        ([1] * 25 + [0] * 8, "intermittent"),
        ([1] * 28 + [0] * 8, "smooth"),
        ([0] * 5, "none"),
    ],
)
def test_the_class_of_a_pattern_is_exact_on_its_borders(series, label):
    assert PATTERNS[patterns(np.array(series)[:, None])[0]] == label


def test_levels_of_many_series_are_the_lowest_that_reach_the_target():
    # Axsaeter, Inventory Control, 3rd ed., ch. 5 (value from memory): fill = 1 - (B(r) - B(r + Q)) / Q.
    draw = np.random.default_rng(4)
    mean = draw.gamma(0.6, 3, 200)
    variance, lots = mean * draw.uniform(1, 4, 200), draw.integers(1, 9, 200)
    levels, reached = reorder_levels(mean, variance, target=0.95, quantity=lots)
    for one in range(200):
        demand = LeadTimeDemand(mean[one], variance[one])
        assert reached[one] == pytest.approx(fill_rate(demand, levels[one], lots[one]), abs=1e-9)
        assert reached[one] >= 0.95
        assert levels[one] == -1 or fill_rate(demand, levels[one] - 1, lots[one]) < 0.95


def test_a_replay_of_poisson_demand_agrees_with_the_exact_fill_of_a_review_period():
    # 1.5 a day, lead time 3, review 1: S = 7, 8, 9 fill .72275, .83571, .91071 (Silver, Pyke, Thomas, 4th ed., ch. 7,
    # the data of an exercise; value from memory), worked out as 1 - (B_4(S) - B_3(S)) / 1.5.
    demand = np.random.default_rng(11).poisson(1.5, (1500, 100))
    for level, exact in ((7, 0.72275), (8, 0.83571), (9, 0.91071)):
        got = replay(demand, TopUp(np.full(100, level)), from_period=51, lead_time=3)
        assert got.standard_error is not None
        assert got.fill_rate == pytest.approx(exact, abs=4 * got.standard_error + 1e-4)
        before, until = (np.array([4.5]),) * 2, (np.array([6.0]),) * 2
        assert stock_levels(before, until, target=exact - 1e-4)[0] == level
        assert stock_levels(before, until, target=exact + 1e-4)[0] == level + 1


def test_no_policy_sees_a_month_before_it_is_over():
    draw = np.random.default_rng(5)
    table = draw.poisson(0.6, (40, 30))
    other = table.copy()
    other[35:] = 50
    one, two = (replay(each, DefaultPolicy(30, target=0.95), from_period=25) for each in (table, other))
    assert (one.on_hand[:10] == two.on_hand[:10]).all()


def test_more_stock_never_serves_less_and_the_lowest_multiplier_is_found():
    table = np.random.default_rng(6).poisson(0.7, (24, 40))
    found = tuned_multiplier(table, table, 0.9, from_period=1)
    assert found is not None
    at, below = (
        replay(table, TopUp(fixed_levels(table, one)), from_period=1).fill_rate for one in (found, found - 0.01)
    )
    assert at is not None
    assert below is not None
    assert below < 0.9 <= at


def test_another_method_is_used_only_where_it_wins_over_rolling_origins():
    """The paired difference of squared errors, judged by scipy.stats.ttest_1samp: t above 2."""
    table = np.random.default_rng(8).poisson(0.8, (36, 300))
    known = forecast_all(table)
    places = np.flatnonzero(known.method > 2)
    assert 0 < len(places) < 60
    for place in [*places, *range(20)]:
        missed: dict[str, list[float]] = {method: [] for method in METHODS}
        for month in range(12, 36):
            rates = smooth(table[:month, [place]])
            for method, errors in missed.items():
                errors.append((rates.of(method)[0] - table[month, place]) ** 2)
        best = min(METHODS, key=lambda one: np.mean(missed[one]))
        better = np.array(missed["tsb"]) - np.array(missed[best])
        wins = best != "tsb" and stats.ttest_1samp(better, 0).statistic > 2
        assert METHOD_NAMES[known.method[place]] == (best if wins else "tsb")


def test_the_command_prints_one_object_and_names_a_cell_it_cannot_read(tmp_path, capsys):
    table = np.random.default_rng(9).poisson(0.8, (30, 20))
    lines = ["series," + ",".join(f"m{one + 1:02}" for one in range(30))]
    lines += [f"s{place}," + ",".join(map(str, row)) for place, row in enumerate(table.T)]
    file = tmp_path / "demand.csv"
    file.write_text("\n".join(lines))
    call_command("backtest", "--demand", str(file), "--from-period", "25", "--json")
    found = json.loads(capsys.readouterr().out)
    assert found["series"] == 20
    assert set(found["policies"]) == {"default", "fixed_min_max", "last_period"}
    assert 0.7 < found["policies"]["default"]["fill_rate"] <= 1
    file.write_text(file.read_text().replace("s3,", "s3,x", 1))
    with pytest.raises(CommandError, match="line 5, m01"):
        call_command("backtest", "--demand", str(file))


@pytest.mark.parametrize("cell", ["²", "-1", "1.5", "", "1e3"])
def test_what_is_no_whole_number_is_named_with_its_line(tmp_path, cell):
    file = tmp_path / "demand.csv"
    file.write_text(f"series,m01,m02\na,1,{cell}\n", encoding="utf-8-sig")
    with pytest.raises(CommandError, match="line 2, m02"):
        call_command("backtest", "--demand", str(file))
