"""The invented operator, loaded without a web server: what every measure runs on."""

import datetime
import json
import tempfile
from io import StringIO
from pathlib import Path

from django.core.management import call_command
from django.db import transaction

from jobs.models import ProcedureRevision
from jobs.operations.procedure_reviews import publish, review, submit
from kits.models import Kit
from kits.operations.fit import compute_marked
from kits.operations.kits import release_kit
from services.api.loading import known_loads
from services.bulk_loads.reading import CSV, YAML, read_file
from services.demo.operator_files import kind_of, render
from services.identity.callers import Caller, as_caller
from services.identity.models import Principal


def load_operator() -> dict[str, str]:
    """Load every file, release and publish what they bring, compute all fits; a token of each person by login."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        render(folder, datetime.datetime.now(datetime.UTC).date())
        call_command("load_trade_tables", stdout=StringIO())
        _people(folder)
        for path in sorted(folder.iterdir()):
            kind = kind_of(path)
            if kind is None:
                continue
            if kind == "past-jobs":
                _release_everything()
            _load(path, kind)
        while compute_marked(limit=500):
            continue
        return _people(folder)


def caller(login: str) -> Caller:
    """The caller for operations and queries."""
    return as_caller(Principal.objects.get(login=login))


def _people(folder: Path) -> dict[str, str]:
    out = StringIO()
    call_command("demo_people", str(folder), "--json", stdout=out)
    return {one["login"]: one["token"] for one in json.loads(out.getvalue())["people"]}


def _load(path: Path, kind: str) -> None:
    chosen = known_loads()[kind]
    read = read_file(chosen, path.read_bytes(), CSV if path.suffix == ".csv" else YAML)
    with transaction.atomic(savepoint=False):
        outcomes = chosen.run(by=caller("erp-link"), rows=[one.row for one in read if not one.problems])
    assert any(one.outcome == "created" for one in outcomes), path.name


def _release_everything() -> None:
    by = caller("erp-link")
    for kit in Kit.objects.filter(state="draft").select_related("item"):
        release_kit(by=by, kit_id=kit.pk, expected_version=kit.item.version)
    for revision in ProcedureRevision.objects.filter(state="draft"):
        for operation, person in ((submit, by), (review, caller("peder")), (publish, by)):
            revision.refresh_from_db()
            operation(by=person, revision_id=revision.pk, expected_version=revision.version)
