"""A pump that can be overhauled in tests: model, positions, kit that fits, procedure, instruments, stock."""

import datetime
import uuid
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db import transaction
from django.utils import timezone
from rest_framework.test import APIClient

from assets.calculations.part_specifications import parse_specification
from assets.models import Bin, Fluid, FluidFamily, Maker, PositionRole, Pump, PumpModel, WearPosition
from assets.operations.pumps import register_pump
from jobs.models import Instrument, ProcedureRevision
from jobs.operations.procedure_reviews import publish, review, submit
from jobs.operations.procedures import draft_revision
from kits.models import Item, Part
from kits.operations.fit import compute_marked
from tests.laid_out_again import LaidOut
from tests.shelves import make_kit, put_on_shelf
from tests.world import Cast

TODAY = timezone.now().date()


def procedure_document(**changes: Any) -> dict[str, Any]:
    """A short procedure: make safe, inspect the shaft, fit the bearing and the seal, test."""
    document: dict[str, Any] = {
        "code": "PULL-OUT",
        "title": "Overhaul of a long-coupled back pull-out pump",
        "configuration": "long-coupled-back-pull-out",
        "revision": 1,
        "prepared_by": "Workshop",
        "sections": [
            {
                "section": "make-safe",
                "steps": [
                    {
                        "number": 10,
                        "title": "Isolate",
                        "instruction": "Isolate every energy source, lock and tag each.",
                        "signal_word": "danger",
                        "caution": "Stored energy kills. Prove dead before touching.",
                        "achieves": ["isolate", "lock-and-tag", "prove-dead", "depressurise", "drain"],
                    }
                ],
            },
            {
                "section": "clean-and-inspect",
                "steps": [
                    {
                        "number": 20,
                        "title": "Measure the shaft run-out",
                        "instruction": "Turn the shaft between centres and read the dial indicator.",
                        "characteristics": [
                            {
                                "code": "shaft-run-out",
                                "name": "Shaft run-out at the seal",
                                "quantity": "length",
                                "unit": "mm",
                                "readings": 4,
                                "rule": "total-indicator-reading",
                                "limits": {"kind": "numbers", "upper": "0.05"},
                                "instrument_type": "dial-indicator",
                            }
                        ],
                    },
                    {
                        "number": 30,
                        "title": "Measure the bearing seat",
                        "instruction": "Measure the seat and the room.",
                        "hold_point": True,
                        "characteristics": [
                            {
                                "code": "seat-diameter",
                                "name": "Bearing seat diameter",
                                "quantity": "length",
                                "unit": "mm",
                                "readings": 3,
                                "rule": "mean",
                                "limits": {"kind": "iso-286", "class": "k5", "nominal_from": "bearing_bore_mm"},
                                "instrument_type": "outside-micrometer",
                            },
                            {
                                "code": "room-temperature",
                                "name": "Room temperature",
                                "quantity": "temperature",
                                "unit": "degC",
                                "readings": 1,
                                "rule": "single",
                                "limits": {"kind": "numbers", "lower": "5", "upper": "40"},
                                "instrument_type": "thermometer",
                            },
                        ],
                    },
                ],
            },
            {
                "section": "assemble",
                "steps": [
                    {
                        "number": 40,
                        "title": "Heat and fit the bearing",
                        "instruction": "Heat the bearing evenly and push it against the shoulder.",
                        "signal_word": "warning",
                        "caution": "Hot parts burn. No naked flame.",
                        "positions": ["bearing-de"],
                        "computes": {
                            "kind": "bearing-heating",
                            "bore_from": "seat-diameter",
                            "room_temperature_from": "room-temperature",
                        },
                    },
                    {
                        "number": 50,
                        "title": "Fit the O-rings",
                        "positions": ["casing-o-ring"],
                        "instruction": "Wet the O-rings and push them in without twist.",
                        "computes": "lubricant-advice",
                    },
                    {
                        "number": 60,
                        "title": "Only for nitrile",
                        "instruction": "Grease may be used.",
                        "conditions": [{"of": "elastomer", "one_of": ["NBR"]}],
                    },
                ],
            },
        ],
    }
    return document | changes


@dataclass
class Workshop:
    """Everything an overhaul at the north site needs."""

    pump: Pump
    kit: Item
    o_ring: Item
    bearing: Item
    instruments: dict[str, Instrument]


SEEN = """
UPDATE kits_askedkey asked SET seen = md5(concat_ws('|', one.pump_model_id, one.role, one.specification::text))
FROM assets_wearposition one WHERE one.id = asked.position_id
"""


def workshops() -> LaidOut[Workshop]:
    """Workshops of which the first is built and later ones are written as it was."""
    return LaidOut(
        depends_on=(
            "assets_bin", "assets_buildclass", "assets_fluid", "assets_fluidfamily", "assets_maker",
            "assets_positionrole", "assets_pump", "assets_pumpmodel", "assets_temperaturecutpoint", "jobs_instrument",
            "jobs_procedure", "kits_fitday", "kits_fitmark", "kits_fitresult", "kits_item", "kits_kitscope",
            "kits_kitscope_roles", "kits_lot", "kits_storagegroup",
        ),
        aside={"fit_fresh": "kits_fitresult"},
        worked_out=(SEEN,),
    )  # fmt: skip


WORKSHOP = workshops()


def _part(number: str, category: str, text: str) -> Item:
    specification = parse_specification(category, text)
    item = Item.objects.create(kind="part", number=number, name=number, cost=Decimal(5), currency="EUR")
    Part.objects.create(
        item=item,
        category=category,
        specification=specification.to_json(),
        elastomers=list(specification.elastomers()),
    )
    return item


def make_instrument(cast: Cast, number: str, kind: str, *, due: int = 200, **figures: Any) -> Instrument:
    fields = {
        "range_from": Decimal(0),
        "range_to": Decimal(100),
        "unit": "mm",
        "resolution": Decimal("0.001"),
        "expanded_uncertainty": Decimal("0.002"),
        "calibrated_on": TODAY - datetime.timedelta(days=300),
        "calibration_due": TODAY + datetime.timedelta(days=due),
    }
    return Instrument.objects.create(number=number, type=kind, site=cast.north, **(fields | figures))


def open_workshop(cast: Cast) -> Workshop:
    """A pump at north with EPDM seals on hot water, and the kit that fits it, computed."""
    people = [cast.people[role].pk for role in sorted(cast.people)]
    bins = Bin.objects.filter(site__in=[cast.north, cast.south]).order_by("site__code", "code")
    return WORKSHOP.lay_out(
        lambda: _built(cast), given=[cast.north.pk, cast.south.pk, *people, *bins.values_list("pk", flat=True)]
    )


def _built(cast: Cast) -> Workshop:
    for role in ("casing-o-ring", "bearing-de"):
        PositionRole.objects.get_or_create(code=role, defaults={"name": role})
    family, _ = FluidFamily.objects.get_or_create(code="water", defaults={"name": "Water", "is_water": True})
    fluid = Fluid.objects.create(code="heating-water", name="Heating water", family=family)
    model = PumpModel.objects.create(
        code="NB-40-200",
        maker=Maker.objects.create(code="norrvik", name="Norrvik Pumps"),
        series="NB",
        designation="65-40-200",
        configuration="long-coupled-back-pull-out",
        shaft_diameter_at_seal_mm=Decimal(43),
        rated_speed_rpm=Decimal(2900),
        rated_power_kw=Decimal(15),
    )
    o_ring, bearing = _part("OR-226-E", "o-ring", "226 EPDM 70"), _part("BRG-6308", "rolling-bearing", "6308 C3")
    for role, part in (("casing-o-ring", o_ring), ("bearing-de", bearing)):
        WearPosition.objects.create(
            pump_model=model,
            role_id=role,
            quantity=1,
            part_number=part.number,
            specification=Part.objects.get(pk=part.pk).specification,
        )
    kit = make_kit("KIT-NB", [("casing-o-ring", o_ring), ("bearing-de", bearing)])
    roles = PositionRole.objects.filter(code__in=["casing-o-ring", "bearing-de"])
    kit.kit.scope.roles.set(roles)
    with transaction.atomic():
        pump = register_pump(
            by=cast.by("integrator"),
            site_id=cast.north.pk,
            pump_model_id=model.pk,
            tag="P-117",
            serial_number="NB2019-0117",
            variant={"elastomer": "EPDM"},
            fluid_id=fluid.pk,
            temperature_min_c=Decimal(60),
            temperature_max_c=Decimal(90),
            criticality="vital",
        )
    while compute_marked(limit=200):
        continue
    put_on_shelf(cast.by("stores"), cast.north, kit, 1, lot="L-1")
    instruments = {
        "dial": make_instrument(cast, "DI-1", "dial-indicator"),
        "overdue": make_instrument(cast, "DI-2", "dial-indicator", due=-3),
        "micrometer": make_instrument(cast, "MIC-1", "outside-micrometer"),
        "thermometer": make_instrument(
            cast, "TH-1", "thermometer", unit="degC", resolution=Decimal("0.1"), expanded_uncertainty=Decimal("0.5")
        ),
    }
    with transaction.atomic():
        revision_id, _ = draft_revision(by=cast.by("procedure-author"), document=procedure_document())
        release_procedure(cast, revision_id)
    return Workshop(pump, kit, o_ring, bearing, instruments)


def release_procedure(cast: Cast, revision_id: uuid.UUID) -> None:
    """Hand a draft in, have the second author review it, publish it."""
    for operation, role in ((submit, "procedure-author"), (review, "second-author"), (publish, "procedure-author")):
        version = ProcedureRevision.objects.get(pk=revision_id).version
        operation(by=cast.by(role), revision_id=revision_id, expected_version=version)


class Hand:
    """Somebody's hand on the API: posts with a fresh Idempotency-Key and the ETag of what was last read."""

    def __init__(self, client: APIClient) -> None:
        self.client = client

    def get(self, path: str, status: int = 200) -> Any:
        answer = self.client.get(f"/api/v1/{path}")
        assert answer.status_code == status, answer.content
        return answer.json()

    def post(self, path: str, body: Any = None, *, status: int = 200, seen: str = "") -> Any:
        return self._write("post", path, body, status, seen)

    def patch(self, path: str, body: Any = None, *, status: int = 200, seen: str = "") -> Any:
        return self._write("patch", path, body, status, seen)

    def _write(self, verb: str, path: str, body: Any, status: int, seen: str) -> Any:
        headers = {"Idempotency-Key": str(uuid.uuid4())}
        if seen:
            headers["If-Match"] = self.client.get(f"/api/v1/{seen}").headers["ETag"]
        answer = getattr(self.client, verb)(f"/api/v1/{path}", body or {}, format="json", headers=headers)
        assert answer.status_code == status, answer.content
        return answer.json()


def hands(cast: Cast) -> dict[str, Hand]:
    """A hand for each role."""
    return {role: Hand(client) for role, client in cast.clients().items()}
