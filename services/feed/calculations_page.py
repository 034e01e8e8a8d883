"""docs/calculations.md from the declarations: formulas, inputs, results, sources, cautions, and a worked example."""

from collections.abc import Iterator
from typing import Any

from jobs.calculations.offered import CALCULATIONS
from jobs.calculations.offered.declared import Calculation, Input, Kind
from jobs.calculations.offered.reading import answer

HEAD = """# Calculations

`GET /api/v1/calculations` lists what can be worked out, `GET /api/v1/calculations/{name}` shows one, and
`POST /api/v1/calculations/{name}` works it out for whoever is signed in. Nothing is written and nothing is kept.

* A quantity is `{"value": "50", "unit": "mm"}`, in any unit of the same kind (`in`, `psi`, `gpm`, `degF`, `lbf*ft`);
  the answer says how it was understood. A speed is written in `rpm`, never in Hz. A plain number is a decimal string.
* The answer brings the formula, the results with units, a sentence, whose figures they are, and cautions that belong to
  the result.
* `value from memory`: the figure was not looked up in the standard; check it before it gates any work.
  `common practice, no source`: a rule of the shop. `compared with an independent source by the tests`: the tests hold
  it against a library or a published figure.
* A figure here judges nothing: it does not know how uncertain a reading is. A verdict on a job does.

Written by `manage.py write_reference`.
"""


def calculations_page() -> str:
    """Every computation that is offered, by family."""
    lines = [HEAD, "| calculation | works out | family |", "|---|---|---|"]
    lines += [f"| [`{one.name}`](#{one.name}) | {one.title} | {one.family} |" for one in CALCULATIONS.values()]
    for one in CALCULATIONS.values():
        lines += ["", *_section(one)]
    return "\n".join(lines) + "\n"


def _section(one: Calculation) -> Iterator[str]:
    found = answer(one, one.example)
    yield f"## {one.name}"
    yield ""
    yield f"{one.title}: `{one.formula}`"
    yield ""
    yield "| input | unit | allowed | means |"
    yield "|---|---|---|---|"
    for given in one.inputs:
        yield _input(given, "")
        for column in given.columns:
            yield _input(column, f"{given.name}: ")
    yield ""
    yield "| result | unit | means |"
    yield "|---|---|---|"
    for output in one.outputs:
        yield f"| `{output.name}` | {output.unit} | {output.words} |"
    yield ""
    yield f"Example: {found.outcome.sentence}"
    yield ""
    for source in dict.fromkeys([*one.sources, *found.outcome.sources]):
        yield f"* Source: {source.words()}."
    for caution in dict.fromkeys([*one.cautions, *found.outcome.cautions]):
        yield f"* Caution: {caution}"


def _input(one: Input, before: str) -> str:
    left_out = f" Left out: {_usual(one.usual)}." if one.optional and one.usual is not None else ""
    may = " May be left out." if one.optional and one.usual is None else ""
    unit = one.unit or ("" if one.kind is Kind.QUANTITY else one.kind.value)
    return f"| {before}`{one.name}` | {unit} | {one.range_words()} | {one.words}{may}{left_out} |"


def _usual(value: Any) -> str:
    return str(value).lower() if isinstance(value, bool) else str(value)
