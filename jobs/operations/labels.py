"""Making labels, replacing them and making them void. A thing has one active label, however many ask at once."""

import uuid
from collections.abc import Iterable, Sequence
from typing import Any

from django.db import transaction

from assets.access import require_anywhere, require_role
from jobs.calculations.label_codes import grouped, new_code
from jobs.models import Label, LabelKind
from jobs.queries.labels import Thing, active_labels, labels, lots_kept_by, things_known
from services.api.refusals import Busy, FieldProblem, InvalidValue, NotAllowed, NotThere, WrongState
from services.api.versions import version_changed
from services.changes.recording import Recorded, record_changes
from services.identity.callers import Caller

# At the thing's site; kits are of no site.
LABELLERS = ("stores", "planner", "supervisor", "integrator", "admin")
KIT_LABELLERS = ("data-owner", "stores", "admin")
ATTEMPTS = 5


@transaction.atomic(savepoint=False)
def make_labels(*, by: Caller, things: Sequence[Thing], at: str = "#/things") -> tuple[list[uuid.UUID], set[uuid.UUID]]:
    """The active label of each thing, in their order, made where there is none; and which of them are new.

    ``at`` points at the things in the request. Raises `InvalidValue`, `NotThere`, `NotAllowed`.
    """
    wanted = list(dict.fromkeys(things))
    sites = things_known(by, wanted)
    _must_be_known(things, sites, at)
    may_label(by, sites)
    found = active_labels(wanted)
    fresh: dict[uuid.UUID, Label] = {}
    for _ in range(ATTEMPTS):
        missing = [one for one in wanted if one not in found]
        if not missing:
            break
        made = [Label(code=new_code(), kind=one.kind, **{f"{one.kind}_id": one.id}) for one in missing]
        fresh |= {one.pk: one for one in made}
        # Somebody else's label for the same thing wins, and a code that is taken is drawn again.
        Label.objects.bulk_create(made, ignore_conflicts=True)
        found |= active_labels(missing)
    else:
        raise Busy("Others are replacing labels of the same things.", remedy="Repeat the request.", retry_after=1)
    new = {pk for pk in found.values() if pk in fresh}
    told = {found[thing]: site for thing, site in sites.items() if found[thing] in new}
    record_changes([recorded("label.made", fresh[pk], site) for pk, site in told.items()], by=by)
    return [found[one] for one in things], new


@transaction.atomic(savepoint=False)
def replace_label(*, by: Caller, label_id: uuid.UUID, expected_version: int, reason: str) -> Label:
    """The label that takes the place of one that was damaged or lost. The old code still leads to the thing.

    Raises `NotThere`, `NotAllowed`, `VersionChanged`, `WrongState`.
    """
    old, site = _locked(by, label_id, expected_version)
    if old.state != Label.State.ACTIVE:
        raise WrongState(
            f"Label {grouped(old.code)} is {old.state} already.",
            remedy="Replace the active label of the thing, or have one made for it.",
        )
    new = Label(code=new_code(), kind=old.kind, **{f"{old.kind}_id": _thing_of(old).id})
    # The old one gives way first: a thing has one active label at every moment.
    Label.objects.filter(pk=old.pk).update(state=Label.State.REPLACED, replaced_by_id=new.pk, reason=reason)
    new.save(force_insert=True)
    old.refresh_from_db()
    record_changes([recorded("label.replaced", old, site), recorded("label.made", new, site)], by=by)
    return new


@transaction.atomic(savepoint=False)
def void_label(*, by: Caller, label_id: uuid.UUID, expected_version: int, reason: str) -> Label:
    """Make a code void: it leads nowhere any more.

    Raises `NotThere`, `NotAllowed`, `VersionChanged`, `WrongState`.
    """
    label, site = _locked(by, label_id, expected_version)
    if label.state == Label.State.VOID:
        raise WrongState(f"Label {grouped(label.code)} is void already.", remedy="Nothing more is needed.")
    Label.objects.filter(pk=label.pk).update(state=Label.State.VOID, reason=reason)
    label.refresh_from_db()
    record_changes([recorded("label.voided", label, site)], by=by)
    return label


def may_label(by: Caller, sites: dict[Thing, uuid.UUID | None]) -> None:
    """Raises `NotAllowed` unless the caller may label each of the things, `NotThere` at a site without any role."""
    kinds = {one.kind for one in sites}
    if LabelKind.KIT in kinds:
        require_anywhere(by, *KIT_LABELLERS)
    for site in sorted({one for one in sites.values() if one is not None}):
        require_role(by, site, *LABELLERS, what="The site")
    wanted = {one.id for one in sites if one.kind == LabelKind.LOT}
    if wanted:
        require_anywhere(by, *LABELLERS)
        if wanted - lots_kept_by(by, wanted, *LABELLERS):
            raise NotAllowed(
                f"A lot lies at no site where you have the role {' or '.join(LABELLERS)}.",
                remedy="Ask somebody with that role.",
                required_roles=list(LABELLERS),
            )


def _must_be_known(things: Iterable[Thing], known: dict[Thing, uuid.UUID | None], at: str) -> None:
    unknown = [
        FieldProblem(f"{at}/{index}/id", "not-found", f"There is no such {one.kind}.")
        for index, one in enumerate(things)
        if one not in known
    ]
    if unknown:
        raise InvalidValue(
            f"There is no such thing: {', '.join(one.pointer for one in unknown[:5])}.",
            remedy="Check the kinds and the ids, or ask for a role at their sites.",
            problems=unknown,
        )


def _locked(by: Caller, label_id: uuid.UUID, expected_version: int) -> tuple[Label, uuid.UUID | None]:
    """A label that the caller may change, locked, and the site of its thing."""
    if not labels(by=by).filter(pk=label_id).exists():
        raise NotThere("The label is not here.", remedy="Check the id, or ask for a role at its site.")
    label = Label.objects.select_for_update(no_key=True).get(pk=label_id)
    sites = things_known(by, [_thing_of(label)])
    may_label(by, sites)
    if label.version != expected_version:
        raise version_changed("The label", label.version)
    return label, sites[_thing_of(label)]


def _thing_of(label: Label) -> Thing:
    return Thing(label.kind, getattr(label, f"{label.kind}_id"))


def recorded(kind: str, label: Label, site: uuid.UUID | None) -> Recorded:
    """A label's change, to be recorded."""
    body: dict[str, Any] = {
        "code": label.code,
        "kind": label.kind,
        "thing": _thing_of(label).id,
        "state": label.state,
        "replaced_by": label.replaced_by_id,
        "printed_at": label.printed_at,
    }
    return Recorded(kind, "label", label.pk, label.version, site, body)
