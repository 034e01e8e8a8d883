"""Whether a job can start on its day: kit in hand and in date, instruments in calibration, procedure published."""

import datetime
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from assets.calculations.written_numbers import plain

# (lot, quantity, last day it may be fitted; None if nothing in it ages)
Allocation = tuple[str, Decimal, datetime.date | None]
# (number, type, last day of its calibration)
Instrument = tuple[str, str, datetime.date]


@dataclass(frozen=True)
class Reason:
    """Why a job is not ready: a code, a sentence, and what would help."""

    code: str
    sentence: str
    remedy: str


@dataclass(frozen=True)
class Readiness:
    """Ready exactly when there is no reason against it."""

    reasons: tuple[Reason, ...]

    @property
    def ready(self) -> bool:
        return not self.reasons


def readiness(
    *,
    kit_reserved: bool,
    allocations: Sequence[Allocation],
    needed_quantity: Decimal | int,
    job_date: datetime.date,
    instruments: Sequence[Instrument],
    needed_instrument_types: Sequence[str],
    revision_state: str,
) -> Readiness:
    """What stands against starting on ``job_date``, in a fixed order: kit, instruments, procedure.

    A lot counts on its last day, an instrument on the day its calibration falls due. Of each type one instrument in
    calibration is enough.
    """
    return Readiness(
        (
            *_kit(kit_reserved, allocations, needed_quantity, job_date),
            *_instruments(instruments, needed_instrument_types, job_date),
            *_procedure(revision_state),
        )
    )


def _kit(
    kit_reserved: bool, allocations: Sequence[Allocation], needed: Decimal | int, job_date: datetime.date
) -> list[Reason]:
    if not kit_reserved:
        return [Reason("kit-not-reserved", "No kit is reserved by lot for this job.", "Reserve the kit.")]
    expired = sorted(
        {(lot, until) for lot, _, until in allocations if until is not None and until < job_date},
        key=lambda one: (one[1], one[0]),
    )
    reasons = [
        Reason(
            "kit-out-of-date",
            f"Lot {lot} may be fitted until {until}; the job is on {job_date}.",
            "Reserve again for a lot that keeps until then, or move the job to an earlier day.",
        )
        for lot, until in expired
    ]
    good = sum((quantity for _, quantity, until in allocations if until is None or until >= job_date), Decimal(0))
    if good < needed and not reasons:
        reasons.append(
            Reason(
                "kit-short",
                f"{plain(good)} of {plain(needed)} kits are reserved in date for {job_date}.",
                "Reserve what is missing, or have it brought from another site.",
            )
        )
    return reasons


def _instruments(
    instruments: Sequence[Instrument], needed_types: Sequence[str], job_date: datetime.date
) -> list[Reason]:
    reasons = []
    for kind in sorted(set(needed_types)):
        of_kind = [(due, number) for number, one, due in instruments if one == kind]
        if not of_kind:
            reasons.append(
                Reason(
                    "instrument-missing",
                    f"The procedure measures with {kind}; this site has none.",
                    "Bring one to the site, or register it there.",
                )
            )
        elif max(of_kind)[0] < job_date:
            due, number = max(of_kind)
            reasons.append(
                Reason(
                    "instrument-out-of-calibration",
                    f"No {kind} is in calibration on {job_date}; the last, {number}, falls due on {due}.",
                    "Have one calibrated before the job, or bring another.",
                )
            )
    return reasons


def _procedure(revision_state: str) -> list[Reason]:
    if revision_state == "published":
        return []
    return [
        Reason(
            "procedure-not-published",
            f"The procedure's revision is {revision_state or 'not known'}, not published.",
            "Publish it, or plan the job again with a published revision.",
        )
    ]
