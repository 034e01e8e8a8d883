"""What is stored of random catalogues is what the second hand says of every pump, one by one."""

import random

import pytest
from django.db import transaction
from django.utils import timezone

from kits.models import FitResult
from tests.kits.fit.random_catalogues import random_catalogue
from tests.kits.fit.stored import drain, empty_site, fits_by_hand, read_back, stored_fits, write

pytestmark = pytest.mark.django_db


def test_every_pump_of_random_catalogues_finds_the_fits_worked_out_by_hand():
    site, today, seen = empty_site("trial"), timezone.now().date(), set()
    for seed in range(24):
        with transaction.atomic():
            write(random_catalogue(random.Random(1000 + seed), on=today, pumps=9), site)
            drain()
            expected = fits_by_hand(read_back(), today)
            assert stored_fits() == expected, f"seed {seed}"
            seen |= {row[0] for row in expected.values()}
            transaction.set_rollback(True)
    assert seen == {"fits", "fits-with-notes", "incomplete", "unsuitable"}
    assert not FitResult.objects.exists()
