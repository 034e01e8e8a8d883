"""What the catalogue of parts and kits refuses, and what would help."""

from services.api.problems import when_broken
from services.api.refusals import AlreadyThere, Kind, Refusal


class PartSpecificationUnreadable(Refusal):
    """The specification is not written in the form of its category. The detail shows the form to write."""

    kind = Kind.INVALID
    code = "part-specification-unreadable"
    title = "The specification cannot be read"


class SupersessionCycle(Refusal):
    """The chain of supersessions would lead back to its beginning. Check which part is the newer one."""

    kind = Kind.INVALID
    code = "supersession-cycle"
    title = "The supersessions would form a circle"


class KitReleased(Refusal):
    """A released revision of a kit never changes, since jobs and stock rely on it. Make a new revision."""

    code = "kit-released"
    title = "A released kit never changes"


class KitIncomplete(Refusal):
    """The kit cannot be released as it is: it has no lines, or lines outside its scope. The errors name them."""

    code = "kit-incomplete"
    title = "The kit cannot be released yet"


def _released() -> Refusal:
    return KitReleased("The kit is not a draft any more.", remedy="Make a new revision with the lines you want.")


when_broken("released_kit_never_changes", _released)
when_broken(
    "item_number_is_used_once",
    lambda: AlreadyThere(
        "A part or kit with this number and revision exists.",
        remedy="Change that one, or choose another number or revision.",
        pointer="#/number",
    ),
)
when_broken(
    "supersession_is_named_once",
    lambda: AlreadyThere("This supersession exists.", remedy="Change its date or direction.", pointer="#/new"),
)
when_broken(
    "terms_are_agreed_once",
    lambda: AlreadyThere("Terms for this item exist at the supplier.", remedy="Change those.", pointer="#/item"),
)
