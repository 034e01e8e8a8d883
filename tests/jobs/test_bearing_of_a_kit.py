"""What a kit's drive-end bearing tells a job: its bore, and whether heat would spoil its grease and seals."""

from decimal import Decimal

import pytest

from assets.calculations.part_specifications import parse_specification
from jobs.queries.job_data import kit_data
from kits.models import Part
from tests.overhauls import open_workshop
from tests.world import gather_cast

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize(
    ("designation", "sealed"),
    [
        ("6308/C3", "no"),
        ("6308-2Z", "yes"),
        ("6308-Z", "yes"),
        ("6308-2RS", "yes"),
        ("6308-2RZ", "yes"),
        ("6308-RZ", "yes"),
    ],
)
def test_whatever_closes_a_bearing_makes_it_one_to_heat_with_care(designation, sealed):
    """Sealed and greased bearings bear less heat (common practice, no source); bore 40 mm by ISO 15."""
    workshop = open_workshop(gather_cast())
    stored = parse_specification("rolling-bearing", designation).to_json()
    Part.objects.filter(pk=workshop.bearing.pk).update(specification=stored)
    data = kit_data(workshop.kit.pk)
    assert data["bearing_sealed"] == sealed
    assert data["bearing_bore_mm"] == Decimal(40)
