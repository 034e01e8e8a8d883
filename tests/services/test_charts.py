"""A chart is well formed, says what it shows, and puts its points where they belong."""

import xml.etree.ElementTree as ElementTree
from typing import Any

import pytest

from services.web.charts import Curve, Point, chart, ticks

SVG = "{http://www.w3.org/2000/svg}"


def drawn(**changes) -> Any:
    figures: dict[str, Any] = {
        "title": "Served & kept",
        "description": "Fill against stock <all>",
        "x_label": "Units",
        "y_label": "Share",
        "points": [Point("one", 10, 0.95, 0.02), Point("two", 40, 0.99)],
        "curves": [Curve("levels", [(0, 0.5, "x 1"), (40, 0.9, "x 2"), (40.1, 0.9, "x 3")])],
        "highest_y": 1.0,
    }
    return ElementTree.fromstring(chart(**(figures | changes)))  # noqa: S314 our own text


def words(picture):
    return [one.text for one in picture.iter(f"{SVG}text")]


def test_a_reader_without_eyes_on_it_gets_title_and_description():
    """SVG 2, 5.8 and WAI-ARIA graphics: role, title and desc named by aria-labelledby."""
    picture = drawn()
    named = picture.attrib["aria-labelledby"].split()
    assert picture.attrib["role"] == "img"
    assert [picture.find(f"{SVG}title").text, picture.find(f"{SVG}desc").text] == [
        "Served & kept", "Fill against stock <all>",
    ]  # fmt: skip
    assert [picture.find(f"{SVG}{name}").attrib["id"] for name in ("title", "desc")] == named


def test_axes_points_and_curves_are_named():
    found = words(drawn())
    assert {"Units", "Share", "one", "two", "levels", "x 1"} <= set(found)
    assert "x 3" not in found


def test_an_error_bar_ends_where_shares_end():
    """0.99 with 0.02: the bar goes from 0.97 to 1, not above."""
    bars = [
        one.attrib["d"]
        for one in drawn(points=[Point("two", 40, 0.99, 0.02)]).iter(f"{SVG}path")
        if one.attrib.get("stroke-width") == "1.5"
    ]
    assert len(bars) == 1
    assert bars[0].split()[1] == "56.0"


@pytest.mark.parametrize(
    ("low", "high", "expected"),
    [(0, 40, [0, 10, 20, 30, 40]), (0.5, 1, [0.5, 0.6, 0.7, 0.8, 0.9, 1.0]), (0, 0, [0, 2e-10])],
)
def test_ticks_are_round(low, high, expected):
    assert ticks(low, high)[: len(expected)] == expected


def test_points_at_one_height_and_none_across_are_drawn_all_the_same():
    found = words(drawn(points=[Point("full", 0, 1.0)], curves=[]))
    assert {"0.9", "1"} <= set(found)
    assert "0.2" in found


def test_nothing_to_show_is_refused():
    with pytest.raises(ValueError, match="nothing to show"):
        drawn(points=[], curves=[])
