"""How recorded work may end without being done, and what would help."""

from services.api.refusals import Refusal


class NeverEnded(Refusal):
    """The work was begun several times and its worker died each time. Ask for less at once, or have the worker's log
    looked at."""

    code = "work-never-ended"
    title = "The work never came to an end"
