"""The life of a run: which database it works on, and how far it came. Kept beside the data, so that the next start
knows whether to go on or to begin anew."""

import datetime
import hashlib
import json
import uuid
from dataclasses import asdict, dataclass
from pathlib import Path

PROJECT = Path(__file__).resolve().parents[2]
TELLING, TOLD = "telling", "told"


@dataclass
class Life:
    """``phase`` is *telling* until the account is complete."""

    run: str
    database: str
    template: str
    day: str
    phase: str = TELLING

    @property
    def id(self) -> uuid.UUID:
        """The run's id, from which the ids and keys of the account are made."""
        return uuid.UUID(self.run)

    @property
    def today(self) -> datetime.date:
        """The day on which the operator's dates are built."""
        return datetime.date.fromisoformat(self.day)

    def write(self, folder: Path) -> None:
        """Keep it; a torn file cannot be left behind."""
        half = folder / "run.json.half"
        half.write_text(json.dumps(asdict(self)), encoding="utf-8")
        half.replace(folder / "run.json")


def begin(template: str, day: datetime.date) -> Life:
    """A run that has not begun."""
    run = uuid.uuid4()
    return Life(str(run), f"demo_run_{run.hex[:12]}", template, day.isoformat())


def read(folder: Path) -> Life | None:
    """The last run, if what is kept of it can be read."""
    try:
        return Life(**json.loads((folder / "run.json").read_text(encoding="utf-8")))
    except (OSError, ValueError, TypeError):
        return None


def template_name(day: datetime.date) -> str:
    """The name of the loaded template for this code on this day: another one is made when either changes."""
    digest = hashlib.sha256()
    for part in ("assets", "kits", "jobs", "services"):
        for path in sorted((PROJECT / part).rglob("*")):
            if path.suffix in {".py", ".csv", ".yaml"} and "__pycache__" not in path.parts:
                digest.update(path.relative_to(PROJECT).as_posix().encode())
                digest.update(path.read_bytes())
    return f"demo_template_{day:%Y%m%d}_{digest.hexdigest()[:10]}"
