"""What stock counts refuse, and what would help."""

from services.api.problems import when_broken
from services.api.refusals import AlreadyThere, InvalidValue, Kind, Refusal


class WrongCountState(Refusal):
    """The count is not in a state from which this can be done, or was posted or cancelled already. The detail says
    which it is in."""

    code = "wrong-count-state"
    title = "Not possible in the count's present state"


class LinesUncounted(Refusal):
    """Lines of the sheet are not counted yet. Count them, and enter zero where nothing lies; the answer names them."""

    code = "lines-uncounted"
    title = "Lines are not counted yet"


class AnotherPersonNeeded(Refusal):
    """Whoever counted a line neither counts it again nor posts a large difference of it alone. Ask somebody else."""

    kind = Kind.FORBIDDEN
    code = "another-person-needed"
    title = "Another person is needed"


class CountContradicted(Refusal):
    """More has left the shelf since it was counted than was counted there, so the count cannot be right. Send the lines
    back to be counted again; the answer names them."""

    code = "count-contradicted"
    title = "What moved since contradicts the count"


when_broken(
    "shelf_stands_on_one_live_count",
    lambda: AlreadyThere(
        "Some of it stands on another count that is not ended.", remedy="Post or cancel that one first."
    ),
)
when_broken(
    "ended_count_never_changes",
    lambda: WrongCountState("The count has ended; it never changes.", remedy="Make a new count."),
)
when_broken(
    "dearer_classes_are_counted_at_least_as_often",
    lambda: InvalidValue(
        "A must be counted at least as often as B, B as C, and each once to 250 times a year.",
        remedy="Give all three in that order.",
        pointer="#/a_times_a_year",
    ),
)
when_broken(
    "value_limit_has_a_currency",
    lambda: InvalidValue(
        "A limit above zero needs its currency.", remedy="Give currency, for example EUR.", pointer="#/currency"
    ),
)
