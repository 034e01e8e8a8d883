"""Where sites lie, by which the nearest other one is found."""

from decimal import Decimal

import pytest

from assets.models import Site
from services.api.loading import LoadRow, known_loads

pytestmark = pytest.mark.django_db


def rows(*places):
    return [
        LoadRow(number, {"code": "north", "name": "North", "time_zone": "Europe/Oslo", "central_store": False, **place})
        for number, place in enumerate(places, 2)
    ]


def loaded(cast, **place):
    return known_loads()["sites"].run(by=cast.by("chief"), rows=rows(place))[0]


def lies(site):
    return Site.objects.values_list("latitude", "longitude").get(pk=site.pk)


def test_a_file_says_where_a_site_lies_and_an_empty_cell_leaves_it(cast):
    assert loaded(cast, latitude=Decimal("62.0123456"), longitude=Decimal("-6.768")).outcome == "changed"
    assert lies(cast.north) == (Decimal("62.01235"), Decimal("-6.76800"))
    assert loaded(cast, latitude=None, longitude=None).outcome == "unchanged"
    assert lies(cast.north) == (Decimal("62.01235"), Decimal("-6.76800"))


@pytest.mark.parametrize(
    ("latitude", "longitude", "column"),
    [("62", None, "longitude"), (None, "7", "latitude"), ("91", "7", "latitude"), ("62", "1e25", "longitude")],
)
def test_a_place_that_is_none_is_refused_by_its_column(cast, latitude, longitude, column):
    figures = {"latitude": latitude, "longitude": longitude}
    made = loaded(cast, **{name: None if text is None else Decimal(text) for name, text in figures.items()})
    assert (made.outcome, made.problems[0].column) == ("refused", column)
    assert lies(cast.north) == (None, None)


def test_over_the_api_both_figures_come_together(cast):
    client, path = cast.client("chief"), f"/api/v1/sites/{cast.north.pk}"

    def say(status, **body):
        headers = {"If-Match": client.get(path).headers["ETag"]}
        answer = client.patch(path, body, format="json", headers=headers)
        assert answer.status_code == status, answer.content
        return answer.json()

    assert say(422, latitude="62")["errors"][0]["pointer"] == "#/longitude"
    assert say(422, latitude="95", longitude="7")["errors"][0]["pointer"] == "#/latitude"
    assert Decimal(say(200, latitude="62", longitude="7")["latitude"]) == 62
