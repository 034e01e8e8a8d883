"""How far places are from each other."""

import math
from decimal import Decimal

EARTH_RADIUS_KM = 6371.0088  # Mean radius R1 of the GRS 80 ellipsoid, (2a + b) / 3.


def great_circle_km(one: tuple[Decimal, Decimal], other: tuple[Decimal, Decimal]) -> float:
    """Kilometres over the sphere between two (latitude, longitude) in degrees, by the haversine formula (R. W.
    Sinnott, Virtues of the Haversine, Sky and Telescope 68, 1984, value from memory). Roads are longer."""
    (north, east), (north2, east2) = (tuple(math.radians(value) for value in place) for place in (one, other))
    half = math.sin((north2 - north) / 2) ** 2
    half += math.cos(north) * math.cos(north2) * math.sin((east2 - east) / 2) ** 2
    return 2 * EARTH_RADIUS_KM * math.asin(min(1.0, math.sqrt(half)))
