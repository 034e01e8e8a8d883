"""What the tables of materials and lubricants refuse, and what would help."""

from collections.abc import Callable

from services.api.problems import when_broken
from services.api.refusals import AlreadyThere, InvalidValue, Refusal


def _given(what: str) -> Callable[[], Refusal]:
    return lambda: AlreadyThere(
        f"This source gives {what} already.", remedy="Change that row, or name the other source.", pointer="#/source"
    )


def _chosen() -> Refusal:
    return AlreadyThere(
        "Another row of this figure is chosen.",
        remedy="Empty its chosen_because first: one row can be chosen.",
        pointer="#/chosen_because",
    )


def _wrong(detail: str, remedy: str, pointer: str) -> Callable[[], Refusal]:
    return lambda: InvalidValue(detail, remedy=remedy, pointer=pointer)


for constraint, what in (
    ("limits_are_given_once_by_a_source", "limits of the material"),
    ("rating_is_given_once_by_a_source", "a rating of the material in this family up to this temperature"),
    ("storage_group_is_given_once_by_a_source", "a storage group of the material"),
    ("face_rating_is_given_once_by_a_source", "a rating of the seal face in this family up to this temperature"),
    ("lubricant_is_judged_once_by_a_source", "a verdict on the lubricant for this material"),
):
    when_broken(constraint, _given(what))
for constraint in (
    "one_limit_row_is_chosen",
    "one_rating_row_is_chosen",
    "one_storage_group_row_is_chosen",
    "one_face_rating_row_is_chosen",
    "one_lubricant_verdict_is_chosen",
):
    when_broken(constraint, _chosen)
when_broken(
    "limit_row_gives_a_limit",
    _wrong("The row gives no limit at all.", "Give at least one temperature.", "#/air_max_c"),
)
when_broken(
    "limits_are_in_order",
    _wrong("The lowest temperature is not below the highest.", "Check which is which.", "#/air_min_c"),
)
when_broken(
    "caution_of_usable_names_a_lubricant",
    _wrong(
        "A caution of a usable lubricant names that lubricant, and no other names one.",
        "Give occasion and lubricant together.",
        "#/lubricant",
    ),
)
