"""Plain catalogues in the shapes that the service's rule of fit takes."""

import datetime
from collections.abc import Sequence
from dataclasses import dataclass

from assets.calculations.part_specifications import specification_from_json
from kits.calculations.fit import (
    AskedPosition,
    Fit,
    OfferedKit,
    OfferedLine,
    OperatingConditions,
    judge_fit,
    judge_kits,
    normalise_number,
)
from kits.calculations.material_suitability import LimitRow, RatingRow, SuitabilityTables
from kits.calculations.supersession import Link, Supersessions
from tests.kits.fit.brute_force import Catalogue, Kit, Line, Pump, Specification, positions_of


def read(stored: Specification | None):
    return specification_from_json(stored) if stored else None


@dataclass
class Engine:
    """The service's rule over one catalogue."""

    catalogue: Catalogue

    def __post_init__(self) -> None:
        rows = self.catalogue
        self.links = Supersessions(
            [
                Link(normalise_number(one.old), normalise_number(one.new), one.from_date, one.both_ways, one.until)
                for one in rows.replacements
            ]
        )
        self.tables = SuitabilityTables(
            [RatingRow(one.material, one.family, one.up_to, one.letter) for one in rows.ratings],
            [LimitRow(one.material, one.coldest, one.hottest, one.hottest_in_water) for one in rows.limits],
            rows.water,
            [RatingRow(one.material, one.family, one.up_to, one.letter) for one in rows.face_ratings],
        )

    def judge(self, kits: Sequence[Kit], pump: Pump, on: datetime.date) -> list[Fit]:
        """What the service says of some kits for one pump: a single kit by itself, several at once."""
        asked = [
            AskedPosition(one.role, one.quantity, one.mandatory, one.number, read(one.specification))
            for one in positions_of(self.catalogue, pump)
        ]
        conditions = OperatingConditions(pump.family, pump.coldest, pump.hottest)
        offered = [OfferedKit(kit.scope, tuple(map(offered_line, kit.lines))) for kit in kits]
        if len(offered) > 1:
            return judge_kits(
                positions=asked,
                kits=offered,
                supersessions=self.links,
                tables=self.tables,
                conditions=conditions,
                on=on,
            )
        return [
            judge_fit(
                positions=asked,
                lines=one.lines,
                scope_roles=one.scope_roles,
                supersessions=self.links,
                tables=self.tables,
                conditions=conditions,
                on=on,
            )
            for one in offered
        ]


def offered_line(one: Line) -> OfferedLine:
    return OfferedLine(one.role, one.part.number, read(one.part.specification), one.quantity, one.optional, one.group)
