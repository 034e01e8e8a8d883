"""A revision's way from a draft to the workshop: reviewed by another person, superseded, withdrawn, copied."""

from typing import Any

import pytest
from django.db import IntegrityError, transaction

from jobs.models import ProcedureRevision, RevisionAct
from jobs.operations.procedures import draft_revision
from services.changes.models import Change
from tests.jobs.procedure_authors import PATH, STEP, Authors, changed
from tests.overhauls import procedure_document, release_procedure

pytestmark = pytest.mark.django_db


@pytest.fixture
def authors() -> Authors:
    return Authors()


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

    def test_a_refusal_says_in_words_where_the_revision_stands(self, authors: Authors) -> None:
        path = authors.draft()
        told = authors.act(authors.other, path, "review", status=409)
        assert (told["title"], told["detail"]) == (
            "Not possible in the present state of the revision",
            "This revision is a draft.",
        )
        authors.act(authors.one, path, "submit")
        told = authors.act(authors.one, path, "withdraw", {"reason": "doubled"}, status=409)
        assert told["detail"] == "This revision is under review."

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
