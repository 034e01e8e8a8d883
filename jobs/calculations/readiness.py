"""Whether a job can start on its day: kit in hand, in date and fitting, parts beyond it in hand, instruments in
calibration, procedure published. Each is told, met or not."""

import datetime
from collections.abc import Sequence
from dataclasses import dataclass, field
from decimal import Decimal

from assets.calculations.written_numbers import plain

# (lot, quantity, last day it may be fitted; None if nothing in it ages)
Allocation = tuple[str, Decimal, datetime.date | None]
# (part's number, quantity, whether lots are reserved or it was issued)
ExtraPart = tuple[str, Decimal, bool]
# (number, type, last day of its calibration)
Instrument = tuple[str, str, datetime.date]


@dataclass(frozen=True)
class Reason:
    """Why a job is not ready: a code, a sentence, and what would help."""

    code: str
    sentence: str
    remedy: str


@dataclass(frozen=True)
class Requirement:
    """One thing the job needs: what kind of thing, whether it is there, in words; if not, the code and the remedy."""

    what: str
    met: bool
    sentence: str
    code: str = ""
    remedy: str = ""


@dataclass(frozen=True)
class Readiness:
    """Ready exactly when every requirement is met."""

    requirements: tuple[Requirement, ...]
    reasons: tuple[Reason, ...] = field(init=False)

    def __post_init__(self) -> None:
        lacking = (one for one in self.requirements if not one.met)
        object.__setattr__(self, "reasons", tuple(Reason(one.code, one.sentence, one.remedy) for one in lacking))

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
    takes_kit: bool = True,
    fit_verdict: str = "",
    extra_parts: Sequence[ExtraPart] = (),
    goes_on_with_revision: bool = False,
) -> Readiness:
    """What the job needs for ``job_date``, in a fixed order: kit, fit, parts beyond the kit, instruments, procedure.

    A lot counts on its last day, an instrument on the day its calibration falls due. Of each type one instrument in
    calibration is enough. A follow-up that takes no kit needs none; one that goes on with the revision of the job
    before may do so once a newer one is published. ``fit_verdict`` is that of the rule of fit on that day; empty where
    it was not asked.
    """
    return Readiness(
        (
            *(_kit(kit_reserved, allocations, needed_quantity, job_date) if takes_kit else _no_kit()),
            *_fit(fit_verdict),
            *_extra_parts(extra_parts),
            *_instruments(instruments, needed_instrument_types, job_date),
            *_procedure(revision_state, goes_on_with_revision),
        )
    )


def _met(what: str, sentence: str) -> Requirement:
    return Requirement(what, met=True, sentence=sentence)


def _unmet(what: str, code: str, sentence: str, remedy: str) -> Requirement:
    return Requirement(what, met=False, sentence=sentence, code=code, remedy=remedy)


def _no_kit() -> list[Requirement]:
    return [_met("kit", "The follow-up takes no kit of its own.")]


def _kit(
    kit_reserved: bool, allocations: Sequence[Allocation], needed: Decimal | int, job_date: datetime.date
) -> list[Requirement]:
    if not kit_reserved:
        return [_unmet("kit", "kit-not-reserved", "No kit is reserved by lot for this job.", "Reserve the kit.")]
    found = [
        _met("kit-in-date", f"Lot {lot} may be fitted until {until}." if until else f"Nothing in lot {lot} ages.")
        if until is None or until >= job_date
        else _unmet(
            "kit-in-date",
            "kit-out-of-date",
            f"Lot {lot} may be fitted until {until}; the job is on {job_date}.",
            "Reserve again for a lot that keeps until then, or move the job to an earlier day.",
        )
        for lot, until in sorted(
            {(lot, until) for lot, _, until in allocations}, key=lambda one: (one[1] or datetime.date.max, one[0])
        )
    ]
    good = sum((quantity for _, quantity, until in allocations if until is None or until >= job_date), Decimal(0))
    if good >= needed:
        found.insert(0, _met("kit", "The kit is reserved by lot."))
    elif all(one.met for one in found):
        found.insert(
            0,
            _unmet(
                "kit",
                "kit-short",
                f"{plain(good)} of {plain(needed)} kits are reserved in date for {job_date}.",
                "Reserve what is missing, or have it brought from another site.",
            ),
        )
    return found


def _fit(verdict: str) -> list[Requirement]:
    if not verdict:
        return []
    if verdict in {"fits", "fits-with-notes"}:
        return [_met("kit-fits", f"The kit {verdict.replace('-', ' ')} this pump as it is described now.")]
    return [
        _unmet(
            "kit-fits",
            "kit-no-longer-fits",
            f"The kit and this pump as it is described now: {verdict.replace('-', ' ')}.",
            "GET /pumps/{id}/fits says why; plan the job again with a kit that fits, or put the pump's data right.",
        )
    ]


def _extra_parts(extra_parts: Sequence[ExtraPart]) -> list[Requirement]:
    return [
        _met("extra-part", f"{plain(quantity)} of {number} are in hand.")
        if held
        else _unmet(
            "extra-part",
            "extra-part-not-reserved",
            f"{plain(quantity)} of {number}, asked for beyond the kit, are not reserved.",
            "Have it brought or ordered; the extra part's promise says when it can be there.",
        )
        for number, quantity, held in extra_parts
    ]


def _instruments(
    instruments: Sequence[Instrument], needed_types: Sequence[str], job_date: datetime.date
) -> list[Requirement]:
    found = []
    for kind in sorted(set(needed_types)):
        words = kind.replace("-", " ")
        of_kind = [(due, number) for number, one, due in instruments if one == kind]
        if not of_kind:
            found.append(
                _unmet(
                    "instrument",
                    "instrument-missing",
                    f"The procedure measures with {words}; this site has none.",
                    "Bring one to the site, or register it there.",
                )
            )
            continue
        due, number = max(of_kind)
        if due < job_date:
            found.append(
                _unmet(
                    "instrument",
                    "instrument-out-of-calibration",
                    f"No {words} is in calibration on {job_date}; the last, {number}, falls due on {due}.",
                    "Have one calibrated before the job, or bring another.",
                )
            )
        else:
            found.append(_met("instrument", f"{number} ({words}) is in calibration until {due}."))
    return found


def _procedure(revision_state: str, goes_on: bool) -> list[Requirement]:
    if revision_state == "published":
        return [_met("procedure", "The procedure's revision is published.")]
    if goes_on and revision_state == "withdrawn":
        return [_met("procedure", "It goes on with the revision of the job before; a newer one is published.")]
    return [
        _unmet(
            "procedure",
            "procedure-not-published",
            f"The procedure's revision is {revision_state or 'not known'}, not published.",
            "Publish it."
            if revision_state in {"draft", "in-review", "reviewed"}
            else "Go over to a published revision: PATCH /jobs/{id} with procedure_revision.",
        )
    ]
