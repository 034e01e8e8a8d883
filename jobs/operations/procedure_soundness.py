"""Whether a procedure document can be used, found out before anything of it is kept."""

from collections.abc import Mapping, Sequence
from typing import Any

from assets.queries.pump_models import role_codes
from jobs.calculations.procedure_findings import findings
from jobs.calculations.procedure_shape import Finding
from jobs.calculations.procedure_text import ReadText, TextUnreadable, read_text
from jobs.refusals import ProcedureUnsound
from services.api.refusals import FieldProblem


def unsound_places(document: Any) -> list[FieldProblem]:
    """Every place of a procedure document that cannot be kept, as pointers with what is wrong."""
    return [_problem(one) for one in findings(document) if one.stops == "draft"]


def findings_with_positions(document: Any) -> list[Finding]:
    """All findings, the roles of positions included. One query."""
    return findings(document, role_codes())


def read_procedure(text: str) -> ReadText:
    """A procedure's text with its places. Raises `ProcedureUnsound`."""
    try:
        return read_text(text)
    except TextUnreadable as error:
        raise ProcedureUnsound(
            str(error),
            remedy="Correct the place named and send it again.",
            pointer="#",
            places=[{"pointer": "#", "line": error.line, "column": error.column}],
        ) from error


def require_sound(document: Any, read: ReadText | None = None, *, stops: Sequence[str] = ("draft",)) -> None:
    """Raises `ProcedureUnsound` with every finding that stops it, and its line where there was a text."""
    found = [one for one in findings(document) if one.stops in stops]
    if not found:
        return
    problems = [_problem(one, read) for one in found]
    facts: dict[str, Any] = {} if read is None else {"places": [_place(one, read) for one in found]}
    raise ProcedureUnsound(
        f"{len(problems)} places of the procedure are not sound, first {problems[0].pointer}: {problems[0].detail}",
        remedy="Correct the places named and send it again.",
        problems=problems,
        **facts,
    )


def _problem(one: Finding, read: ReadText | None = None) -> FieldProblem:
    line, column = (0, 0) if read is None else read.place_of(one.pointer)
    where = f"Line {line}, column {column}: " if line else ""
    return FieldProblem(one.pointer, "procedure-unsound", where + one.sentence)


def _place(one: Finding, read: ReadText) -> dict[str, Any]:
    line, column = read.place_of(one.pointer)
    return {"pointer": one.pointer, "line": line, "column": column}


def judged(document: Mapping[str, Any], read: ReadText | None = None) -> dict[str, Any]:
    """All findings of a document as they are answered: whether it could be kept, handed in for review, and why not."""
    return answer_of([shaped(one, read) for one in findings_with_positions(document)])


def judged_text(text: str) -> dict[str, Any]:
    """The same of a text; one that cannot be read is a finding, too."""
    try:
        read = read_text(text)
    except TextUnreadable as error:
        row = shaped(Finding("#", "unreadable", error.detail, "draft"), None)
        return answer_of([{**row, "line": error.line or None, "column": error.column or None}])
    return judged(read.document, read)


def shaped(one: Finding, read: ReadText | None) -> dict[str, Any]:
    """A finding as a row."""
    line, column = (0, 0) if read is None else read.place_of(one.pointer)
    return {
        "severity": one.severity,
        "code": one.code,
        "stops": one.stops,
        "pointer": one.pointer,
        "line": line or None,
        "column": column or None,
        "sentence": one.sentence,
    }


def answer_of(rows: list[dict[str, Any]]) -> dict[str, Any]:
    """Rows of findings with what they mean together."""
    stops = {row["stops"] for row in rows}
    return {"can_be_kept": "draft" not in stops, "can_be_reviewed": not stops - {""}, "findings": rows}
