"""What a workshop expects of any procedure: made safe before anything is opened, guarded before anything turns.

What a step brings about is told by its ``achieves``; where a step says nothing there, its words are looked at (English
ones only). Rules of the shop: common practice, no source. They see that a step is there, not that it is right: that is
for the second person, and for local codes.
"""

import re
from collections.abc import Mapping
from typing import Any

from jobs.calculations.procedure_shape import Finding, steps_of

REVIEW = "review"
# In the order of the trade.
MAKE_SAFE = ("isolate", "lock-and-tag", "prove-dead", "depressurise", "drain")
_NEEDED_WORDS = {
    "isolate": "isolates every source of energy",
    "lock-and-tag": "locks and tags the isolating points",
    "prove-dead": "proves the supply dead",
    "depressurise": "lets the pressure off",
    "drain": "drains the casing",
}
_SIGNS = {
    "isolate": r"\bisolat",
    "lock-and-tag": r"\block\w*\b[^.]{0,40}\btag|\btag\w*\b[^.]{0,40}\block",
    "prove-dead": r"\bprov\w+\b[^.]{0,40}\bdead\b|\bdead\b[^.]{0,20}\bproved\b",
    "depressurise": r"\bpressure off\b|\bdepressuri[sz]|\b(?:release|relieve|let off)\b[^.]{0,20}\bpressure\b",
    "drain": r"\bdrain",
    "cool": r"\bcool",
    "guards-off": r"\b(?:take|remove|unscrew)\b[^.]{0,30}\bguards?\b",
    "guards-on": r"\brefit\b[^.]{0,30}\bguards?\b|\bguards?\b[^.]{0,40}\b(?:on|refitted|fastened)\b",
    "start": r"\b(?:start|run|bump)\b",
}
# An impeller on the motor's own shaft turns whenever the motor does.
_IMPELLER_TURNS = {"close-coupled", "in-line"}
_Step = tuple[str, str, Mapping[str, Any]]


def achieved_by(section: str, step: Mapping[str, Any]) -> set[str]:
    """What a step brings about."""
    told = set(step.get("achieves") or [])
    if told:
        return told
    text = " ".join(str(step.get(key) or "") for key in ("title", "instruction", "caution")).lower()
    found = {name for name, sign in _SIGNS.items() if re.search(sign, text)}
    if section != "make-safe":
        found -= {*MAKE_SAFE, "cool"}
    if section != "test":
        found -= {"start"}
    if section != "dismantle":
        found -= {"guards-off"}
    # A guard is on again where something is closed up, not where it is only spoken of.
    title = str(step.get("title") or "").lower()
    if section in {"make-safe", "dismantle"} or (section == "test" and "guard" not in title):
        found -= {"guards-on"}
    return found


def trade_findings(document: Mapping[str, Any]) -> list[Finding]:
    """Gaps that stop a review, and warnings; of a document of sound form."""
    steps = list(steps_of(document))
    return [*_make_safe(steps), *_guards(document, steps), *_hold_points(steps), *_test(steps), *_measuring(steps)]


def _make_safe(steps: list[_Step]) -> list[Finding]:
    place = next((pointer.rsplit("/", 2)[0] for pointer, section, _ in steps if section == "make-safe"), "")
    if not place:
        return []
    done: dict[str, int] = {}
    for _, section, step in steps:
        if section == "make-safe":
            for one in achieved_by(section, step):
                done.setdefault(one, int(step["number"]))
    found = [
        Finding(
            place,
            "make-safe-incomplete",
            f"No step of make-safe {_NEEDED_WORDS[one]}. Add it, or name it: achieves: [{one}].",
            REVIEW,
        )
        for one in MAKE_SAFE
        if one not in done
    ]
    always = {
        one
        for _, section, step in steps
        if section == "make-safe" and not step.get("conditions")
        for one in achieved_by(section, step)
    }
    found += [
        Finding(
            place,
            "make-safe-under-condition",
            f"What {_NEEDED_WORDS[one]} stands under a condition only; some pump may go without.",
        )
        for one in MAKE_SAFE
        if one in done and one not in always
    ]
    if "cool" not in done:
        found.append(Finding(place, "make-safe-cool", "No step of make-safe waits until it is cool."))
    for earlier, later in (("isolate", "prove-dead"), ("depressurise", "drain")):
        if earlier in done and later in done and done[later] < done[earlier]:
            sentence = f"Step {done[later]} ({later}) comes before step {done[earlier]} ({earlier})."
            found.append(Finding(place, "make-safe-order", sentence))
    for pointer, section, step in steps:
        if section == "make-safe" and not step.get("caution"):
            found.append(Finding(pointer, "make-safe-without-caution", "This step of make-safe says no caution."))
    return found


def _guards(document: Mapping[str, Any], steps: list[_Step]) -> list[Finding]:
    found: list[Finding] = []
    on: Mapping[str, Any] | None = None
    turning = {"start"} | ({"prove-direction"} if document["configuration"] in _IMPELLER_TURNS else set())
    for pointer, section, step in steps:
        done = achieved_by(section, step)
        if "guards-off" in done:
            on = None
        if "guards-on" in done:
            on = step
        if not done & turning:
            continue
        if on is None:
            sentence = (
                f"Step {step['number']} lets it turn, and no step before it refits the guards. "
                "Add one, or name it: achieves: [guards-on]."
            )
            found.append(Finding(pointer, "guards-not-refitted", sentence, REVIEW))
            break
        if on.get("conditions") and on is not step:
            sentence = (
                f"Step {on['number']} refits the guards under a condition, step {step['number']} lets every pump turn."
            )
            found.append(Finding(pointer, "guards-perhaps-not-refitted", sentence))
    return found


def _hold_points(steps: list[_Step]) -> list[Finding]:
    found = [
        Finding(
            f"{pointer}/hold_point",
            "hold-point-says-nothing",
            "Another person must look here, but nothing says at what: give look_at.",
        )
        for pointer, _, step in steps
        if step.get("hold_point") and not step.get("look_at") and not step.get("characteristics")
    ]
    if not any(step.get("hold_point") for _, _, step in steps):
        found.append(Finding("#/sections", "no-hold-point", "No step is a hold point: nobody else ever looks."))
    return found


def _test(steps: list[_Step]) -> list[Finding]:
    tests = [one for one in steps if one[1] == "test"]
    if not tests:
        return [Finding("#/sections", "no-test", "There is no section test: nothing proves that the pump runs.")]
    if not any("start" in achieved_by(section, step) for _, section, step in tests):
        place = tests[0][0].rsplit("/", 2)[0]
        return [Finding(place, "no-start", "No step of the test starts the pump: name it, achieves: [start].")]
    return []


def _measuring(steps: list[_Step]) -> list[Finding]:
    return [
        Finding(
            f"{pointer}/characteristics/{place}/limits",
            "no-limits",
            f"{asked.get('name') or asked['code']}: measured and never judged, it has no limits.",
        )
        for pointer, _, step in steps
        for place, asked in enumerate(step.get("characteristics") or [])
        if (asked.get("limits") or {"kind": "none"}).get("kind") == "none" and "none" not in (asked.get("limits") or {})
    ]
