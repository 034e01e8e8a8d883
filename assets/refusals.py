"""What assets refuse, and what would help."""

from services.api.problems import when_broken
from services.api.refusals import AlreadyThere, InvalidValue, Kind, Refusal


class HoursRunBackwards(Refusal):
    """An hour meter never runs backwards. Check the reading; if the meter was changed, say so with meter_change."""

    kind = Kind.INVALID
    code = "hours-run-backwards"
    title = "The hour reading cannot be right"


class SpecificationUnreadable(Refusal):
    """The specification is not written in the form of its category. The detail shows the form to write."""

    kind = Kind.INVALID
    code = "specification-unreadable"
    title = "The specification cannot be read"


class PositionClash(Refusal):
    """The wear position contradicts itself or another one: its serial range is empty, or it stands there already."""

    kind = Kind.INVALID
    code = "position-clash"
    title = "The wear position cannot be as described"


class LastAdministrator(Refusal):
    """Nobody would be left who can grant roles. Grant the role admin to somebody else first."""

    code = "last-administrator"
    title = "Somebody must stay administrator"


when_broken(
    "tag_is_used_once_a_site",
    lambda: AlreadyThere("Another pump at this site has this tag.", remedy="Choose another tag.", pointer="#/tag"),
)
when_broken(
    "serial_is_used_once_a_model",
    lambda: AlreadyThere(
        "Another pump of this model has this serial number.",
        remedy="Check the nameplate; one number means one pump.",
        pointer="#/serial_number",
    ),
)
when_broken(
    "temperatures_are_in_order",
    lambda: InvalidValue(
        "The lowest temperature is above the highest.",
        remedy="Give the range from low to high.",
        pointer="#/temperature_max_c",
    ),
)
when_broken(
    "position_is_described_once",
    lambda: PositionClash(
        "This position of the model stands there already.", remedy="Change that one.", pointer="#/role"
    ),
)
when_broken(
    "hours_are_read_once_at_a_time",
    lambda: AlreadyThere(
        "A reading of this moment is recorded.", remedy="Check the time of the reading.", pointer="#/read_at"
    ),
)
