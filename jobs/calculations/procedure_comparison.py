"""Two revisions held against each other: steps added, removed, moved and changed, word by word.

Steps are paired by what they say, not only by their numbers: a step that was renumbered or moved is still that step.
"""

import difflib
import re
from bisect import bisect_left
from collections import Counter
from collections.abc import Mapping, Sequence
from typing import Any

_ALIKE_ENOUGH = 0.6
_TEXTS = ("title", "instruction", "caution", "look_at")
_FIELDS = (
    "number", "section", "title", "instruction", "signal_word", "caution", "achieves", "tools", "consumables",
    "positions", "conditions", "hold_point", "look_at", "photos", "computes",
)  # fmt: skip
_ASKED = (
    "name", "quantity", "unit", "readings", "rule", "set_up", "limits", "instrument_type", "second_instrument_type",
    "decision_rule",
)  # fmt: skip
Row = Mapping[str, Any]


def compare(before_head: Row, before: Sequence[Row], after_head: Row, after: Sequence[Row]) -> dict[str, Any]:
    """What became of ``before`` in ``after``: rows as `procedure_rows` makes them, in the order of their numbers."""
    pairs = _paired(before, after)
    kept = {later for _, later in pairs}
    gone = {earlier for earlier, _ in pairs}
    moved = _moved(pairs, before, after)
    changed = []
    for earlier, later in pairs:
        fields, characteristics = (
            _fields(before[earlier], after[later], _FIELDS),
            _characteristics(before, after, earlier, later),
        )
        if fields or characteristics:
            named = _named(after[later])
            changed.append({**named, "before_number": before[earlier]["number"], "fields": fields, **characteristics})
    return {
        "fields": _fields(before_head, after_head, ("title", "configuration", "prepared_by", "scope_words")),
        "added": [_named(one) for place, one in enumerate(after) if place not in kept],
        "removed": [_named(one) for place, one in enumerate(before) if place not in gone],
        "moved": [
            {
                **_named(after[later]),
                "before_number": before[earlier]["number"],
                "before_section": before[earlier]["section"],
            }
            for earlier, later in pairs
            if (earlier, later) in moved
        ],
        "changed": changed,
        "unchanged": len(pairs) - len(changed),
    }


def _named(step: Row) -> dict[str, Any]:
    return {"number": step["number"], "section": step["section"], "title": step["title"]}


def _paired(before: Sequence[Row], after: Sequence[Row]) -> list[tuple[int, int]]:
    """Places of the same step, by the place after. First what says the same, then same numbers, then what is alike."""
    pairs: dict[int, int] = {}
    left = set(range(len(before)))
    by_words: dict[str, list[int]] = {}
    for place, step in enumerate(before):
        by_words.setdefault(_says(step), []).append(place)
    for place, step in enumerate(after):
        same = by_words.get(_says(step))
        if same:
            pairs[place] = same.pop(0)
            left.discard(pairs[place])
    numbers = {before[place]["number"]: place for place in left}
    for place, step in enumerate(after):
        earlier = numbers.get(step["number"])
        if place not in pairs and earlier in left and _alike(before[earlier], step) >= _ALIKE_ENOUGH / 2:
            pairs[place] = earlier
            left.discard(earlier)
    alike = sorted(
        (
            (_alike(before[earlier], after[place]), earlier, place)
            for place in range(len(after))
            if place not in pairs
            for earlier in left
            if _may_be_alike(before[earlier], after[place])
        ),
        key=lambda one: (-one[0], one[1], one[2]),
    )
    for likeness, earlier, place in alike:
        if likeness >= _ALIKE_ENOUGH and place not in pairs and earlier in left:
            pairs[place] = earlier
            left.discard(earlier)
    return [(pairs[place], place) for place in sorted(pairs)]


def _says(step: Row) -> str:
    return f"{step['title']}\n{step['instruction']}"


def _alike(one: Row, other: Row) -> float:
    """Of the words of title and instruction, the share that both have in order; a like title counts as much."""
    title = difflib.SequenceMatcher(None, _words(one["title"]), _words(other["title"]), autojunk=False).ratio()
    whole = difflib.SequenceMatcher(None, _words(_says(one)), _words(_says(other)), autojunk=False).ratio()
    return max(title, whole)


def _may_be_alike(one: Row, other: Row) -> bool:
    """Whether they have words enough in common, in whatever order; much sooner said than how alike they are."""
    for say in (lambda step: step["title"], _says):
        mine, others = Counter(_words(say(one))), Counter(_words(say(other)))
        if 2 * (mine & others).total() >= _ALIKE_ENOUGH * (mine.total() + others.total()):
            return True
    return False


def _moved(pairs: list[tuple[int, int]], before: Sequence[Row], after: Sequence[Row]) -> set[tuple[int, int]]:
    """Pairs whose section is another, and of the rest those out of the order that most keep."""
    within = [one for one in pairs if before[one[0]]["section"] == after[one[1]]["section"]]
    # The longest chain of rising places, by the smallest end of each length.
    ends: list[int] = []
    last: list[int] = []
    before_it: list[int] = []
    for place, (earlier, _) in enumerate(within):
        length = bisect_left(ends, earlier)
        if length == len(ends):
            ends.append(earlier)
            last.append(place)
        else:
            ends[length], last[length] = earlier, place
        before_it.append(last[length - 1] if length else -1)
    staying, place = set(), last[-1] if last else -1
    while place >= 0:
        staying.add(within[place])
        place = before_it[place]
    return set(pairs) - staying


def _fields(before: Row, after: Row, names: Sequence[str]) -> list[dict[str, Any]]:
    found = []
    for name in names:
        one, other = before[name], after[name]
        if one != other:
            words = word_changes(str(one), str(other)) if name in (*_TEXTS, "scope_words", "name") else None
            found.append({"field": name, "before": one, "after": other, **({"words": words} if words else {})})
    return found


def _characteristics(before: Sequence[Row], after: Sequence[Row], earlier: int, later: int) -> dict[str, Any]:
    old = {one["code"]: one for one in before[earlier]["characteristics"]}
    new = {one["code"]: one for one in after[later]["characteristics"]}
    changed = [
        {"code": code, "fields": fields}
        for code in new
        if code in old and (fields := _fields(old[code], new[code], _ASKED))
    ]
    found = {
        "characteristics_added": [code for code in new if code not in old],
        "characteristics_removed": [code for code in old if code not in new],
        "characteristics_changed": changed,
    }
    return found if any(found.values()) else {}


def word_changes(before: str, after: str) -> list[dict[str, str]]:
    """Runs of words in order: ``same``, ``removed`` or ``added``. The same and the removed runs together are the text
    before, the same and the added ones the text after."""
    one, other = _words(before), _words(after)
    found: list[dict[str, str]] = []
    for what, start, end, from_, to in difflib.SequenceMatcher(None, one, other, autojunk=False).get_opcodes():
        if what == "equal":
            found.append({"change": "same", "text": "".join(one[start:end])})
            continue
        if end > start:
            found.append({"change": "removed", "text": "".join(one[start:end])})
        if to > from_:
            found.append({"change": "added", "text": "".join(other[from_:to])})
    return found


def _words(text: str) -> list[str]:
    """Words with the space after them, so that they can be put together again."""
    return re.findall(r"\S+\s*|\s+", text)
