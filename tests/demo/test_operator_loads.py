"""The operator's files go in as they are: what is refused and noted is what was expected, and the story comes out."""

import datetime
import json

import pytest
import yaml
from django.core.management import CommandError, call_command
from django.db import transaction

from assets.models import Grant, Pump, Site
from jobs.calculations.conditions import applies
from jobs.calculations.limits import resolve
from jobs.models import Job, Measurement, ProcedureRevision
from jobs.operations.procedure_reviews import publish, review, submit
from jobs.queries.job_data import job_data
from kits.models import Kit, Proposal
from kits.operations.fit import compute_marked
from kits.operations.kits import release_kit
from kits.operations.replenishment import replenish_site
from kits.queries.fit import fits_of_pump
from kits.queries.movements import ledger_differences
from services.api.loading import known_loads
from services.bulk_loads.reading import CSV, YAML, read_file
from services.demo.operator_files import kind_of, render
from services.identity.callers import as_caller
from services.identity.models import AccessToken, Principal
from services.identity.tokens import check_token

pytestmark = pytest.mark.django_db


@pytest.fixture
def folder(tmp_path):
    render(tmp_path, datetime.datetime.now(datetime.UTC).date())
    return tmp_path


def take_on(folder, capsys):
    call_command("demo_people", str(folder), "--json")
    return {one["login"]: one for one in json.loads(capsys.readouterr().out)["people"]}


def load(path):
    """What became of each row, loaded as the ERP link."""
    kind = known_loads()[str(kind_of(path))]
    by = as_caller(Principal.objects.get(login="erp-link"))
    read = read_file(kind, path.read_bytes(), CSV if path.suffix == ".csv" else YAML)
    assert not [one.problems for one in read if one.problems]
    outcomes = kind.run(by=by, rows=[one.row for one in read])
    for one, outcome in zip(read, outcomes, strict=True):
        outcome.notes = [*one.notes, *outcome.notes]
    return outcomes


def load_all(folder):
    reports = {}
    for path in sorted(folder.iterdir()):
        kind = kind_of(path)
        if kind is None:
            continue
        if kind == "past-jobs":
            release_everything()
        with transaction.atomic(savepoint=True):
            reports[path.name] = load(path)
    return reports


def release_everything():
    by = as_caller(Principal.objects.get(login="erp-link"))
    for kit in Kit.objects.filter(state="draft").select_related("item"):
        release_kit(by=by, kit_id=kit.pk, expected_version=kit.item.version)
    for revision in ProcedureRevision.objects.filter(state="draft"):
        for operation, person in (
            (submit, by),
            (review, as_caller(Principal.objects.get(login="peder"))),
            (publish, by),
        ):
            revision.refresh_from_db()
            operation(by=person, revision_id=revision.pk, expected_version=revision.version)


def test_files_load_with_exactly_the_blemishes_expected_and_p_117_gets_its_answer(folder, capsys):
    take_on(folder, capsys)
    reports = load_all(folder)
    told = yaml.safe_load((folder / "expected_blemishes.yaml").read_text(encoding="utf-8"))
    refused = {
        (name, row.number, one.column, one.value)
        for name, rows in reports.items()
        for row in rows
        for one in row.problems
    }
    noted = {
        (name, row.number, one.column, one.value) for name, rows in reports.items() for row in rows for one in row.notes
    }
    assert refused == {(one["file"], one["row"], one["column"], one["value"]) for one in told["refused"]}
    assert noted == {(one["file"], one["row"], one["column"], one["value"]) for one in told["noted"]}
    for name, count in told["rows"].items():
        assert len(reports[name]) == count
    assert ledger_differences() == []
    rejected = Measurement.objects.filter(verdict="reject")
    assert [(one.job.pump.tag, one.job_characteristic.code) for one in rejected] == [("P-117", "shaft-run-out")]
    assert not Measurement.objects.filter(verdict="not-proved").exists()

    while compute_marked(limit=500):
        continue
    take_on(folder, capsys)
    planner = as_caller(Principal.objects.get(login="silja"))
    today = datetime.datetime.now(datetime.UTC).date()
    answer = fits_of_pump(by=planner, pump_id=Pump.objects.get(tag="P-117").pk, on=today)
    verdicts = {one["number"]: (one["verdict"], one["free_at_site"]) for one in answer["kits"]}
    assert verdicts["FK-L100-E"] == ("fits", 1)
    assert verdicts["FK-L100-W"][0] == "fits-with-notes"
    assert verdicts["FK-L100-SE"][0] == "fits"
    assert verdicts["FK-L100-X"][0] == "incomplete"
    assert verdicts["FK-L100-N"][0] == "unsuitable"
    assert answer["kits"][0]["number"] == "FK-L100-E"
    steps_and_limits_resolve_for_every_past_job()

    site = Site.objects.get(code="heat-plant")
    replenish_site(by=planner, site_id=site.pk)
    needed = Proposal.objects.filter(site=site, working__quantity__gt=0)
    assert not needed.filter(item__number="FK-L100-E").exists()
    assert Proposal.objects.filter(site=site).exists()


def steps_and_limits_resolve_for_every_past_job():
    jobs = Job.objects.select_related("revision")
    assert len(jobs) == 14
    for job in jobs:
        data = job_data(job.pk)
        for step in job.revision.steps.prefetch_related("characteristics"):
            applies(step.conditions, data)
            for asked in step.characteristics.all():
                resolve(asked.limits, data)


# Keyed by what the files call things, so the same file again finds everything there.
HANDED_IN_AGAIN = {
    "sites", "bins", "makers", "fluids", "pump-models", "wear-positions", "pumps", "running-hours", "suppliers",
    "parts", "supersessions", "kits", "kit-lines", "coverage", "supplier-terms", "lots", "opening-stock", "movements",
    "orders", "instruments", "past-jobs", "past-measurements",
}  # fmt: skip


def test_every_file_handed_in_again_changes_nothing(folder, capsys):
    take_on(folder, capsys)
    first = load_all(folder)
    again = {}
    for path in sorted(folder.iterdir()):
        kind = kind_of(path)
        if kind in HANDED_IN_AGAIN:
            again[path.name] = load(path)
    assert {kind_of(folder / name) for name in again} == HANDED_IN_AGAIN
    for name, rows in again.items():
        refused = {one.number for one in first[name] if one.outcome == "refused"}
        told = [one.outcome for one in rows if one.number not in refused]
        assert told == ["unchanged"] * len(told), name
        assert {one.number for one in rows if one.outcome == "refused"} == refused, name


def test_people_are_taken_on_before_the_sites_and_complete_themselves_after(folder, capsys):
    first = take_on(folder, capsys)
    assert first["runa"]["waiting"]
    assert first["runa"]["grants"] == []
    load(folder / "01-sites.csv")
    second = take_on(folder, capsys)
    assert second["runa"]["grants"] == [{"role": "fitter", "site": "heat-plant"}]
    assert not any(one["waiting"] for one in second.values())
    assert {login: one["id"] for login, one in first.items()} == {login: one["id"] for login, one in second.items()}
    assert Grant.objects.filter(principal__login="runa").count() == 1
    assert check_token(first["runa"]["token"]) is None
    live = check_token(second["runa"]["token"])
    assert live is not None
    assert live.principal.check_password(second["runa"]["password"])
    assert AccessToken.objects.filter(principal__login="runa", revoked_at=None).count() == 1


def test_a_service_gets_a_token_and_no_password(folder, capsys):
    people = take_on(folder, capsys)
    assert people["erp-link"]["password"] == ""
    assert not Principal.objects.get(login="erp-link").has_usable_password()
    assert people["shop-phones"]["scopes"] == ["read"]
    assert "availability" in people["tumas"]["scopes"]


def test_a_folder_without_people_is_told_so(tmp_path):
    with pytest.raises(CommandError, match="Render the operator's files"):
        call_command("demo_people", str(tmp_path))
