"""Authoring of procedures over the API: drafts, checks, review by another person, comparison, writing out."""

import json
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
import yaml
from django.core.management import call_command
from django.db import transaction
from hypothesis import given, settings

from jobs.calculations.procedure_format import SCHEMA
from jobs.calculations.procedure_rows import canonical, document_from
from jobs.calculations.procedure_text import write_text
from jobs.models import JobCharacteristic, JobStep, Procedure, ProcedureRevision, RevisionAct
from jobs.operations.jobs import plan_job, reserve_kit
from jobs.operations.procedures import draft_revision, merged
from jobs.operations.starting import start_job
from jobs.queries.procedures import head_of, step_rows
from services.identity.callers import Caller
from tests.jobs.made_up_procedures import procedures
from tests.jobs.procedure_authors import PATH, STEP, Authors, changed
from tests.overhauls import TODAY, open_workshop, procedure_document, release_procedure
from tests.world import gather_cast

pytestmark = pytest.mark.django_db


@pytest.fixture
def authors() -> Authors:
    return Authors()


class TestDrafts:
    def test_a_draft_is_written_from_a_text_with_an_id_of_ones_own(self, authors: Authors) -> None:
        own = "0199a0c4-0000-7000-8000-00000000abcd"
        made = authors.one.post(PATH, {"id": own, "text": write_text(procedure_document())}, status=201)
        assert (made["id"], made["state"], made["procedure_code"]) == (own, "draft", "PULL-OUT")
        assert [one["number"] for one in made["steps"]] == [10, 20, 30, 40, 50, 60]

    def test_the_same_content_again_changes_nothing(self, authors: Authors) -> None:
        path = authors.draft()
        again = authors.one.post(PATH, {"document": procedure_document()}, status=200)
        assert f"{PATH}/{again['id']}" == path
        assert RevisionAct.objects.count() == 1

    def test_only_authors_see_it(self, authors: Authors) -> None:
        path = authors.draft()
        for place in ("", "/acts", "/document", "/findings", "/comparison"):
            authors.fitter.get(f"{path}{place}", status=404)
            authors.other.get(f"{path}{place}")
        assert authors.fitter.get(PATH)["results"] == []

    def test_what_is_wrong_in_a_text_is_named_with_its_line(self, authors: Authors) -> None:
        text = write_text(procedure_document()).replace("caution:", "cautoin:", 1)
        told = authors.one.post(PATH, {"text": text}, status=422)
        assert told["code"] == "procedure-unsound"
        (one,) = told["errors"]
        line = next(number for number, row in enumerate(text.splitlines(), 1) if "cautoin" in row)
        assert one["pointer"] == f"{STEP}/cautoin"
        assert one["detail"].startswith(f"Line {line}, column 9: 'cautoin' is not known here. Did you mean caution?")
        assert told["places"] == [{"pointer": f"{STEP}/cautoin", "line": line, "column": 9}]
        assert not Procedure.objects.exists()

    def test_a_text_that_is_no_yaml_is_refused_with_its_line(self, authors: Authors) -> None:
        told = authors.one.post(PATH, {"text": "code: A\ncode: B\n"}, status=422)
        assert told["places"] == [{"pointer": "#", "line": 2, "column": 1}]
        assert "stands twice" in told["detail"]

    @pytest.mark.parametrize("body", [{}, {"text": "a: 1", "document": {}}])
    def test_it_comes_as_a_text_or_as_a_document(self, authors: Authors, body: Any) -> None:
        assert authors.one.post(PATH, body, status=422)["code"] == "invalid-value"
        assert authors.one.post("procedure-checks", body, status=422)["code"] == "invalid-value"

    def test_a_patch_changes_what_it_names_and_keeps_the_rest(self, authors: Authors) -> None:
        path = authors.draft()
        before = authors.one.get(path)
        after = authors.one.patch(path, {"document": {"title": "Another title", "prepared_by": None}}, seen=path)
        assert (after["title"], after["prepared_by"]) == ("Another title", "")
        assert [one["title"] for one in after["steps"]] == [one["title"] for one in before["steps"]]
        assert after["version"] > before["version"]

    def test_a_text_replaces_the_content_whole(self, authors: Authors) -> None:
        path = authors.draft()
        text = write_text(changed(f"{STEP}/title", "Isolate and lock"))
        assert authors.one.patch(path, {"text": text}, seen=path)["steps"][0]["title"] == "Isolate and lock"

    def test_a_draft_keeps_its_code_and_number(self, authors: Authors) -> None:
        path = authors.draft()
        told = authors.one.patch(path, {"document": {"revision": 7}}, seen=path, status=422)
        assert told["errors"][0]["pointer"] == "#/revision"

    def test_a_draft_that_changed_since_it_was_read_is_not_overwritten(self, authors: Authors) -> None:
        path = authors.draft()
        client = authors.cast.client("second-author")
        stale = client.get(f"/api/v1/{path}").headers["ETag"]
        authors.one.patch(path, {"document": {"title": "First"}}, seen=path)
        late = client.patch(
            f"/api/v1/{path}", {"document": {"title": "Second"}}, format="json", headers={"If-Match": stale}
        )
        assert late.status_code == 412
        assert authors.one.get(path)["title"] == "First"

    def test_a_procedure_keeps_its_configuration_once_a_revision_is_out(self, authors: Authors) -> None:
        authors.publish(authors.draft())
        told = authors.one.post(PATH, {"document": procedure_document(revision=2, configuration="in-line")}, status=422)
        assert told["errors"][0]["pointer"] == "#/configuration"

    def test_what_is_published_keeps_its_title_while_the_next_one_is_written(self, authors: Authors) -> None:
        path = authors.draft()
        authors.publish(path)
        authors.draft(revision=2, title="A title to come")
        assert authors.fitter.get(path)["title"] == procedure_document()["title"]
        assert authors.fitter.get("procedures")["results"][0]["title"] == procedure_document()["title"]


class TestDocuments:
    def test_what_is_written_out_is_taken_in_again_as_the_same(self, authors: Authors) -> None:
        path = authors.draft()
        written = authors.one.get(f"{path}/document")
        assert written == canonical(procedure_document())
        again = authors.one.post(PATH, {"document": written}, status=200)
        assert f"{PATH}/{again['id']}" == path

    def test_it_is_written_out_as_yaml_where_that_is_asked_for(self, authors: Authors) -> None:
        path = authors.draft()
        answer = authors.cast.client("procedure-author").get(f"/api/v1/{path}/document", HTTP_ACCEPT="application/yaml")
        assert answer.headers["Content-Type"].startswith("application/yaml")
        assert yaml.safe_load(answer.content) == canonical(procedure_document())

    def test_a_refusal_is_json_also_where_yaml_is_asked_for(self, authors: Authors) -> None:
        path = authors.draft()
        answer = authors.cast.client("fitter").get(f"/api/v1/{path}/document", HTTP_ACCEPT="application/yaml")
        assert answer.status_code == 404
        assert answer.json()["code"] == "not-found"

    def test_the_schema_is_served_and_kept_in_the_repository(self, authors: Authors) -> None:
        assert authors.fitter.get("procedure-schema") == json.loads(json.dumps(SCHEMA))
        call_command("write_procedure_schema", check=True)
        kept = Path(__file__).parents[2] / "docs" / "procedure.schema.json"
        assert json.loads(kept.read_text(encoding="utf-8")) == SCHEMA

    def test_variables_are_told_with_their_units(self, authors: Authors) -> None:
        found = {one["name"]: one for one in authors.fitter.get("procedure-variables")["results"]}
        assert found["temperature_max_c"]["unit"] == "degC"
        assert found["temperature_max_c"]["short_name"] == "temperature_max"
        assert found["seal_type"]["values"] == ["mechanical", "packed"]

    def test_the_example_of_the_documentation_is_sound(self, authors: Authors) -> None:
        page = (Path(__file__).parents[2] / "docs" / "procedures.md").read_text(encoding="utf-8")
        example = page.split("```yaml\n")[1].split("```")[0]
        found = authors.fitter.post("procedure-checks", {"text": example})
        assert found["findings"] == []


class TestChecks:
    def test_a_check_finds_everything_at_once_and_keeps_nothing(self, authors: Authors) -> None:
        document = changed(f"{STEP}/conditions", ['elastomer = "EPDM" and elastomer = "NBR"'])
        document["sections"][1]["steps"][0]["characteristics"][0]["unit"] = "bar"
        found = authors.fitter.post("procedure-checks", {"text": write_text(document)})
        assert (found["can_be_kept"], found["can_be_reviewed"]) == (False, False)
        by_code = {one["code"]: one for one in found["findings"]}
        assert by_code["never-reached"]["stops"] == "review"
        assert by_code["unit-does-not-match"]["pointer"] == "#/sections/1/steps/0/characteristics/0/unit"
        assert by_code["unit-does-not-match"]["line"] > by_code["never-reached"]["line"] > 1
        assert not Procedure.objects.exists()

    def test_a_text_that_cannot_be_read_is_a_finding_too(self, authors: Authors) -> None:
        found = authors.fitter.post("procedure-checks", {"text": "code: [1,"})
        (one,) = found["findings"]
        assert (one["code"], one["line"], found["can_be_kept"]) == ("unreadable", 2, False)

    def test_positions_are_held_against_the_roles_that_pumps_have(self, authors: Authors) -> None:
        found = authors.one.post("procedure-checks", {"document": changed(f"{STEP}/positions", ["shaft-seals"])})
        (one,) = [one for one in found["findings"] if one["code"] == "position-unknown"]
        assert "Did you mean shaft-seal or shaft-sleeve?" in one["sentence"]

    def test_findings_of_a_draft_are_read_without_a_text(self, authors: Authors) -> None:
        found = authors.one.get(f"{authors.draft()}/findings")
        assert found["can_be_reviewed"]
        assert {one["line"] for one in found["findings"]} <= {None}


class TestComparison:
    def test_a_revision_is_held_against_the_one_before_it(self, authors: Authors) -> None:
        authors.publish(authors.draft())
        document = changed(f"{STEP}/caution", "Stored energy kills and maims.", revision=2)
        document["sections"][2]["steps"].pop()
        path = f"{PATH}/{authors.one.post(PATH, {'document': document}, status=201)['id']}"
        found = authors.one.get(f"{path}/comparison")
        assert [one["number"] for one in found["removed"]] == [60]
        assert [one["number"] for one in found["changed"]] == [10]
        assert {one["field"] for one in found["changed"][0]["fields"]} == {"caution"}

    def test_it_is_held_against_any_other_one_sees(self, authors: Authors) -> None:
        first, other = authors.draft(), authors.draft(code="OTHER", title="Another")
        found = authors.one.get(f"{first}/comparison?before={other.rpartition('/')[2]}")
        assert [one["field"] for one in found["fields"]] == ["title"]
        assert found["unchanged"] == 6

    def test_of_the_first_revision_everything_is_new(self, authors: Authors) -> None:
        found = authors.one.get(f"{authors.draft()}/comparison")
        assert (found["before"], len(found["added"])) == (None, 6)


def test_expressions_are_resolved_for_the_pump_and_kit_of_a_job() -> None:
    cast = gather_cast()
    workshop = open_workshop(cast)
    workshop.pump.variant = {**workshop.pump.variant, "as_new_clearance_mm": "0.30"}
    workshop.pump.save()
    document = changed(
        "#/sections/2/steps/2/conditions", ['elastomer = "NBR" or as_new_clearance < 0.2 mm'], revision=2
    )
    document["sections"][2]["steps"][1]["conditions"] = ['fluid_hazardous = "no" and temperature_max > 0 degC']
    document["sections"][1]["steps"][0]["characteristics"][0]["limits"] = {
        "kind": "expression",
        "upper": "as_new_clearance / 4",
        "unit": "um",
    }
    with transaction.atomic():
        revision, _ = draft_revision(by=cast.by("procedure-author"), document=document)
        release_procedure(cast, revision)
        job = plan_job(by=cast.by("planner"), pump_id=workshop.pump.pk, kit_id=workshop.kit.pk, planned_start=TODAY)
        reserve_kit(by=cast.by("planner"), job_id=job.pk)
        job.refresh_from_db()
        start_job(by=cast.by("fitter"), job_id=job.pk, expected_version=job.version)
    steps = {one.number: one for one in JobStep.objects.filter(job=job)}
    assert steps[50].state == "open"
    assert steps[60].state == "not-applicable"
    assert "as new clearance is 0.3 mm" in steps[60].why
    asked = JobCharacteristic.objects.get(job_step=steps[20])
    assert (asked.lower, asked.upper, asked.unit) == (None, Decimal(75), "um")


def kept(by: Caller, document: dict[str, Any]) -> dict[str, Any]:
    """A document kept in the database and read out again; nothing of it stays."""
    before = transaction.savepoint()
    made, _ = draft_revision(by=by, document=document)
    row = ProcedureRevision.objects.select_related("procedure").get(pk=made)
    found = document_from(head_of(row), step_rows(made))
    transaction.savepoint_rollback(before)
    return found


def test_a_made_up_procedure_comes_out_of_the_database_as_it_went_in() -> None:
    by = gather_cast().by("procedure-author")

    @given(procedures())
    @settings(max_examples=15)
    def there_and_back(document: dict[str, Any]) -> None:
        for section in document["sections"]:
            for step in section["steps"]:
                for asked in step.get("characteristics") or []:
                    asked |= {"quantity": "length", "unit": "mm"}
        assert kept(by, document) == canonical(document)

    there_and_back()


# RFC 7396, appendix A: original, patch, result.
RFC_7396 = [
    ({"a": "b"}, {"a": "c"}, {"a": "c"}),
    ({"a": "b"}, {"b": "c"}, {"a": "b", "b": "c"}),
    ({"a": "b"}, {"a": None}, {}),
    ({"a": "b", "b": "c"}, {"a": None}, {"b": "c"}),
    ({"a": ["b"]}, {"a": "c"}, {"a": "c"}),
    ({"a": "c"}, {"a": ["b"]}, {"a": ["b"]}),
    ({"a": {"b": "c"}}, {"a": {"b": "d", "c": None}}, {"a": {"b": "d"}}),
    ({"a": [{"b": "c"}]}, {"a": [1]}, {"a": [1]}),
    (["a", "b"], ["c", "d"], ["c", "d"]),
    ({"e": None}, {"a": 1}, {"e": None, "a": 1}),
    ({}, {"a": {"bb": {"ccc": None}}}, {"a": {"bb": {}}}),
]


@pytest.mark.parametrize(("original", "patch", "result"), RFC_7396)
def test_a_merge_patch_does_what_rfc_7396_says(original: Any, patch: Any, result: Any) -> None:
    assert merged(original, patch) == result
