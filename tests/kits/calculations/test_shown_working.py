"""A proposal's working as labelled figures: nothing of it is lost, whatever a run writes into it."""

from kits.calculations.shown_working import shown_working
from tests.worked_proposals import WORKING


def test_every_group_of_a_runs_working_has_its_heading_and_figures():
    groups = dict(shown_working(WORKING))
    position = dict(groups["Position"])
    assert position["usable on the shelf"] == "1"
    assert dict(groups["From order to shelf"])["days, mean"] == "42"
    assert "reorder point" in dict(groups["Result"])


def test_the_order_of_reading_is_kept_whatever_the_database_makes_of_it():
    muddled = {
        key: dict(sorted(value.items(), reverse=True)) if isinstance(value, dict) else value
        for key, value in sorted(WORKING.items(), reverse=True)
    }
    groups = shown_working(muddled)
    assert [name for name, _ in groups][:4] == ["Result", "Demand", "From order to shelf", "Service"]
    assert [label for label, _ in dict(groups)["Position"]][::5] == ["usable on the shelf", "in all"]


def test_what_a_newer_run_adds_is_shown_under_its_own_name():
    groups = shown_working({"expedite_rules": {"days_left": 3, "by": ["rail", "lorry"], "urgent": True}})
    assert groups == [("Expedite rules", [("by", "rail; lorry"), ("days left", "3"), ("urgent", "yes")])]


def test_what_is_empty_takes_no_room_and_estimates_are_shortened():
    groups = shown_working({"a": None, "b": "", "c": {"d": {}}, "rate": "0.791488", "sum": "12345.678"})
    assert groups == [("Result", [("rate", "0.7915"), ("sum", "12345.7")])]
