"""Authoring of procedures over the API: drafts, checks, review by another person, comparison, writing out."""

import copy
import json
from pathlib import Path
from typing import Any

import pytest
import yaml
from django.core.management import call_command
from django.db import IntegrityError, transaction
from hypothesis import given, settings

from assets.models import PositionRole
from jobs.calculations.procedure_format import SCHEMA
from jobs.calculations.procedure_rows import canonical, document_from
from jobs.calculations.procedure_text import write_text
from jobs.models import Procedure, ProcedureRevision, RevisionAct
from jobs.operations.procedures import draft_revision, merged
from jobs.queries.procedures import head_of, step_rows
from services.changes.models import Change
from services.identity.callers import Caller
from tests.jobs.made_up_procedures import procedures
from tests.overhauls import Hand, procedure_document, release_procedure
from tests.world import gather_cast

pytestmark = pytest.mark.django_db
PATH = "procedure-revisions"


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


@pytest.fixture
def authors() -> Authors:
    return Authors()


def changed(pointer: str, value: Any, **changes: Any) -> dict[str, Any]:
    """The story's procedure with one place set to another value."""
    document: Any = copy.deepcopy(procedure_document(**changes))
    *way, last = [int(one) if one.isdigit() else one for one in pointer.removeprefix("#/").split("/")]
    at = document
    for one in way:
        at = at[one]
    at[last] = value
    return dict(document)


STEP = "#/sections/0/steps/0"


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


class TestReview:
    def test_a_revision_goes_from_draft_to_published_by_two_people(self, authors: Authors) -> None:
        path = authors.draft()
        assert authors.act(authors.one, path, "submit", {"remarks": "Ready."})["state"] == "in-review"
        assert authors.act(authors.other, path, "review", {"remarks": "Good."})["state"] == "reviewed"
        published = authors.act(authors.one, path, "publish")
        assert published["state"] == "published"
        assert (published["submitted_by"], published["reviewed_by"], published["published_by"]) == (
            "Procedure Author", "Second Author", "Procedure Author",
        )  # fmt: skip
        acts = authors.fitter.get(f"{path}/acts")["results"]
        assert [(one["act"], one["by"], one["remarks"]) for one in acts] == [
            ("drafted", "Procedure Author", ""),
            ("submitted", "Procedure Author", "Ready."),
            ("reviewed", "Second Author", "Good."),
            ("published", "Procedure Author", ""),
        ]
        assert {one["content_hash"] for one in acts} == {published["content_hash"]}

    def test_every_step_of_its_life_is_told(self, authors: Authors) -> None:
        first = authors.draft()
        authors.act(authors.one, first, "submit")
        authors.act(authors.other, first, "send-back", {"remarks": "Which torque?"})
        authors.publish(first)
        authors.publish(authors.draft(revision=2))
        authors.act(authors.one, first, "withdraw", {"reason": "Wrong torque."})
        told = list(Change.objects.filter(kind__startswith="procedure.").order_by("id").values_list("kind", flat=True))
        assert told == [
            f"procedure.{one}"
            for one in (
                "drafted", "submitted", "sent-back", "submitted", "reviewed", "published", "drafted", "submitted",
                "reviewed", "superseded", "published", "withdrawn",
            )
        ]  # fmt: skip

    def test_whoever_wrote_a_revision_does_not_review_it(self, authors: Authors) -> None:
        path = authors.draft()
        authors.act(authors.one, path, "submit")
        assert authors.act(authors.one, path, "review", status=409)["code"] == "second-person-needed"

    def test_whoever_wrote_a_part_of_it_does_not_review_it_either(self, authors: Authors) -> None:
        path = authors.draft()
        authors.other.patch(path, {"document": {"title": "By two"}}, seen=path)
        authors.act(authors.one, path, "submit")
        assert authors.act(authors.other, path, "review", status=409)["code"] == "second-person-needed"

    def test_the_database_keeps_the_two_apart(self, authors: Authors) -> None:
        path = authors.draft()
        authors.act(authors.one, path, "submit")
        row = ProcedureRevision.objects.get()
        with pytest.raises(IntegrityError, match="revision_is_reviewed_by_another"), transaction.atomic():
            ProcedureRevision.objects.update(state="reviewed", reviewed_by=row.submitted_by)

    def test_what_was_sent_back_is_a_draft_with_remarks_and_is_reviewed_anew(self, authors: Authors) -> None:
        path = authors.draft()
        authors.act(authors.one, path, "submit")
        authors.act(authors.other, path, "send-back", {"remarks": " "}, status=422)
        back = authors.act(authors.other, path, "send-back", {"remarks": "Step 20: which indicator?"})
        assert (back["state"], back["submitted_by"], back["submitted_at"]) == ("draft", None, None)
        assert authors.one.get(f"{path}/acts")["results"][-1]["remarks"] == "Step 20: which indicator?"
        authors.act(authors.one, path, "publish", status=409)
        authors.publish(path)

    def test_nothing_changes_while_it_is_reviewed(self, authors: Authors) -> None:
        path = authors.draft()
        authors.act(authors.one, path, "submit")
        told = authors.one.patch(path, {"document": {"title": "Quick"}}, seen=path, status=409)
        assert told["code"] == "revision-closed"
        told = authors.one.post(PATH, {"document": procedure_document(title="Quick")}, status=409)
        assert "sent back" in told["remedy"]

    @pytest.mark.parametrize("before", [(), ("submit",)])
    def test_nothing_is_published_without_a_review(self, authors: Authors, before: tuple[str, ...]) -> None:
        path = authors.draft()
        for act in before:
            authors.act(authors.one, path, act)
        assert authors.act(authors.one, path, "publish", status=409)["code"] == "revision-not-reviewed"

    def test_a_gap_in_making_safe_stops_the_review_and_not_the_draft(self, authors: Authors) -> None:
        document = changed(f"{STEP}/achieves", ["isolate", "lock-and-tag", "prove-dead", "depressurise"])
        path = f"{PATH}/{authors.one.post(PATH, {'document': document}, status=201)['id']}"
        told = authors.act(authors.one, path, "submit", status=422)
        assert told["code"] == "procedure-unsound"
        assert [one["pointer"] for one in told["errors"]] == ["#/sections/0"]
        assert "drains the casing" in told["errors"][0]["detail"]
        assert authors.one.get(path)["state"] == "draft"

    def test_what_is_withdrawn_says_why_and_never_comes_back(self, authors: Authors) -> None:
        path = authors.draft()
        authors.publish(path)
        authors.act(authors.one, path, "withdraw", status=422)
        gone = authors.act(authors.one, path, "withdraw", {"reason": "Wrong torque."})
        assert gone["state"] == "withdrawn"
        for act in ("submit", "publish"):
            assert authors.act(authors.one, path, act, status=409)["code"] == "revision-closed"
        assert Change.objects.filter(kind="procedure.withdrawn", body__reason="Wrong torque.").exists()

    @pytest.mark.parametrize("to", ["draft", "in-review", "reviewed", "superseded-from-draft", "title", "reviewed_by"])
    def test_not_even_sql_takes_a_way_that_a_workshop_does_not_know(self, authors: Authors, to: str) -> None:
        revision, _ = draft_revision(by=authors.cast.by("procedure-author"), document=procedure_document())
        if to != "superseded-from-draft":
            release_procedure(authors.cast, revision)
        row = ProcedureRevision.objects.filter(pk=revision)
        changes: dict[str, Any] = {"state": to.removesuffix("-from-draft")}
        if to == "title":
            changes = {"title": "Another"}
        elif to == "reviewed_by":
            changes = {"reviewed_by": authors.cast.people["chief"]}
        with pytest.raises(IntegrityError, match="never changes"), transaction.atomic():
            row.update(**changes)

    def test_nobody_rewrites_what_was_done(self, authors: Authors) -> None:
        authors.draft()
        with pytest.raises(IntegrityError, match="append-only"), transaction.atomic():
            RevisionAct.objects.update(remarks="never said")


class TestCopies:
    def test_a_copy_of_a_published_revision_is_the_next_draft(self, authors: Authors) -> None:
        path = authors.draft()
        authors.publish(path)
        made = authors.one.post(f"{path}/copy", {}, status=201)
        assert (made["revision"], made["state"]) == (2, "draft")
        before, after = authors.one.get(f"{path}/document"), authors.one.get(f"{PATH}/{made['id']}/document")
        assert after == {**before, "revision": 2}
        assert authors.one.get(f"{PATH}/{made['id']}/comparison")["unchanged"] == 6

    def test_a_number_that_is_taken_is_refused(self, authors: Authors) -> None:
        path = authors.draft()
        told = authors.one.post(f"{path}/copy", {"revision": 1}, status=409)
        assert told["errors"][0]["pointer"] == "#/revision"
        assert authors.one.post(f"{path}/copy", {"revision": 9}, status=201)["revision"] == 9


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
        PositionRole.objects.create(code="shaft-seal", name="Shaft seal")
        found = authors.one.post("procedure-checks", {"document": changed(f"{STEP}/positions", ["shaft-seals"])})
        (one,) = [one for one in found["findings"] if one["code"] == "position-unknown"]
        assert "Did you mean shaft-seal?" in one["sentence"]

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
