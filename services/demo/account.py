"""One overhaul, told from the API: nameplate, kit, job, measurements, signatures, and the order that refills the shelf.

Every line printed was read back from the API, and is compared with what it should be. Each step looks first how far
things are, so an account that was interrupted goes on where it stopped.
"""

import datetime
import textwrap
import uuid
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from services.demo.api_client import Api, NotAsItShouldBe

WIDTH = 96
STORY_SITE, STORY_KIT, STORY_PUMP, OTHER_PUMP = "heat-plant", "FK-L100-E", "P-117", "P-118"


@dataclass
class Account:
    """What the steps share: the callers by login, where the operator's files lie, what was found on the way."""

    run: uuid.UUID
    callers: Mapping[str, Api]
    folder: Path
    today: datetime.date
    found: dict[str, Any] = field(default_factory=dict)
    write: Callable[[str], None] = print

    def heading(self, number: int, words: str) -> None:
        """A step begins."""
        self.write(f"\n{number}. {words}\n{'-' * (len(words) + 3)}")

    def say(self, words: str, indent: int = 3) -> None:
        """A sentence, wrapped."""
        self.write(textwrap.fill(words, WIDTH, initial_indent=" " * indent, subsequent_indent=" " * indent))

    def item(self, words: str) -> None:
        """A line of a list, wrapped under its first word."""
        self.write(textwrap.fill(words, WIDTH, initial_indent="   - ", subsequent_indent="     "))

    def must(self, right: bool, words: str) -> None:
        """Stop where something is not as it should be. Raises `NotAsItShouldBe`."""
        if not right:
            raise NotAsItShouldBe(words)

    def id_of(self, name: str) -> str:
        """An id that this run gives to a thing it makes; the same each time."""
        return str(uuid.uuid5(self.run, name))


Step = Callable[[Account], None]


def tell(account: Account, steps: list[Step]) -> None:
    """All steps in order. Raises `NotAsItShouldBe` at the first that is not as it should be."""
    for step in steps:
        step(account)


def plain(value: Any) -> str:
    """A figure of the API without trailing zeros."""
    text = str(value)
    return text.rstrip("0").rstrip(".") if "." in text else text
