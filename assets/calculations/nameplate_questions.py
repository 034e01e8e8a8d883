"""What to look at on the pump when its nameplate was not sure enough: one question, in one or two sentences."""

from collections.abc import Sequence

from assets.calculations.nameplate_reading import Reading
from assets.calculations.nameplates import MARGIN, THRESHOLD, Match, PlateModel, is_found, rivals
from assets.calculations.written_numbers import plain

BUILT = {
    "close-coupled": "close-coupled (the impeller sits on the motor's own shaft, without a coupling)",
    "long-coupled-back-pull-out": "long-coupled (a coupling and a bearing bracket stand between pump and motor)",
    "in-line": "in-line (suction and discharge flange lie in one line)",
    "between-bearings": "between bearings (a bearing on either side of the casing)",
}
# Looking at a pump may mean standing close to one that runs.
STAY_CLEAR = "Look only; take no guard off a pump that is not isolated and locked."


def question_for(
    reading: Reading, ranked: Sequence[Match], *, threshold: float = THRESHOLD, margin: float = MARGIN
) -> str:
    """What to look at; empty where the best match is sure (see `is_found`)."""
    if is_found(ranked, threshold=threshold, margin=margin):
        return ""
    if not (reading.type_text or reading.lines):
        return "No type was read. Give the type and the size from the nameplate, such as NB 65-40-200."
    if not ranked:
        return (
            "No pump model resembles this nameplate. Read the type and the size again; if they are right, the data "
            "owner has to add the model."
        )
    best = ranked[0]
    near = rivals(ranked, margin=margin)
    if near and best.score >= threshold and not best.against:
        return tell_apart(best.model, [one.model for one in near])
    return _doubt(reading, best)


def tell_apart(best: PlateModel, others: Sequence[PlateModel]) -> str:
    """How to tell a model from others that answer to the plate as well: by what differs and is easiest to see."""
    every = [best, *others]
    makers = _distinct([one.maker for one in every])
    if len(makers) > 1:
        return f"Several makers have this type: {_either(makers)}? Read the maker's name on the plate."
    types = _distinct([one.type_text for one in every])
    if len(types) > 1:
        return f"Is it {_either(types)}? Read the letters and all figures of the type, also those after the size."
    built = _distinct([BUILT.get(one.configuration, one.configuration) for one in every])
    name = best.type_text
    if len(built) > 1:
        return f"{name} is built in several ways: {_either(built)}? {STAY_CLEAR}"
    for unit, words, values in (
        ("1/min", "the speed n", [one.rated_speed_rpm for one in every]),
        ("kW", "the power P", [one.rated_power_kw for one in every]),
        ("mm", "the shaft diameter at the seal on the drawing", [one.shaft_diameter_at_seal_mm for one in every]),
    ):
        shown = _distinct([f"{plain(value)} {unit}" for value in values])
        if len(shown) > 1:
            return f"{name} is there with {_either(shown)}: read {words}."
    return (
        f"{name} is in the catalogue more than once under {_either([one.code for one in every])}: ask the data owner."
    )


def _doubt(reading: Reading, best: Match) -> str:
    model, read = best.model, reading.type_text or " / ".join(reading.lines[:3])
    nearest = f"The nearest model is {model.type_text} by {model.maker}"
    if "size" in best.against:
        return f"{nearest}, but the size does not agree with {read!r}. Read all figures of the type again."
    if "maker" in best.against:
        return f"{nearest}, but {reading.maker!r} was read for the maker. Read the maker's name again."
    if "series" in best.against:
        return f"{nearest}, but the series does not agree with {read!r}. Read the letters and figures before the size."
    if not best.parts["size"]:
        return f"{nearest}, but no size was read. Read the two or three numbers after the type, such as 65-40-200."
    if not best.parts["series"]:
        return f"{nearest}, but no series was read. Read the letters of the type before the size."
    return f"{nearest}, but {read!r} is too little like it. Read maker, type and size again."


def _distinct(values: Sequence[str]) -> list[str]:
    return list(dict.fromkeys(values))


def _either(values: Sequence[str]) -> str:
    shown = [*values[:3], "another"] if len(values) > 4 else list(values)
    return f"{', '.join(shown[:-1])} or {shown[-1]}"
