"""Authors of procedures at work on the API, and the story's procedure with one place changed."""

import copy
from typing import Any

from tests.overhauls import Hand, procedure_document
from tests.world import gather_cast

PATH = "procedure-revisions"
STEP = "#/sections/0/steps/0"


class Authors:
    """Two authors of procedures and a fitter, each with a hand on the API."""

    def __init__(self) -> None:
        self.cast = gather_cast()
        self.one = Hand(self.cast.client("procedure-author"))
        self.other = Hand(self.cast.client("second-author"))
        self.fitter = Hand(self.cast.client("fitter"))

    def draft(self, **changes: Any) -> str:
        made = self.one.post(PATH, {"document": procedure_document(**changes)}, status=201)
        return f"{PATH}/{made['id']}"

    def act(self, who: Hand, path: str, act: str, body: Any = None, status: int = 200) -> Any:
        return who.post(f"{path}/{act}", body or {}, status=status, seen=path)

    def publish(self, path: str) -> None:
        for who, act in ((self.one, "submit"), (self.other, "review"), (self.one, "publish")):
            self.act(who, path, act)


def changed(pointer: str, value: Any, **changes: Any) -> dict[str, Any]:
    """The story's procedure with one place set to another value."""
    document: Any = copy.deepcopy(procedure_document(**changes))
    *way, last = [int(one) if one.isdigit() else one for one in pointer.removeprefix("#/").split("/")]
    at = document
    for one in way:
        at = at[one]
    at[last] = value
    return dict(document)
