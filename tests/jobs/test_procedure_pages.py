"""Procedures on pages: who sees a draft, what is new in it, and its way to being published."""

import pytest
from django.db import transaction
from django.test import Client

from jobs.models import ProcedureRevision
from jobs.operations.procedures import draft_revision
from tests.overhauls import open_workshop, procedure_document

pytestmark = pytest.mark.django_db


def changed_draft(cast) -> ProcedureRevision:
    """A second revision: words and a limit of one step are others, one step is new."""
    open_workshop(cast)
    document = procedure_document(revision=2)
    step = document["sections"][1]["steps"][0]
    step["instruction"] = "Turn the shaft slowly between centres and read the dial indicator."
    step["characteristics"][0]["limits"] = {"kind": "numbers", "upper": "0.04"}
    document["sections"][2]["steps"].append({"number": 70, "title": "Turn by hand", "instruction": "It turns freely."})
    with transaction.atomic():
        made, _ = draft_revision(by=cast.by("procedure-author"), document=document)
    return ProcedureRevision.objects.get(pk=made)


@pytest.fixture
def draft(cast):
    return changed_draft(cast)


def browser(cast, login: str) -> Client:
    client = Client()
    client.force_login(cast.people[login])
    return client


def act(cast, login: str, draft, name: str, **fields) -> str:
    draft.refresh_from_db()
    address = f"/workshop/procedures/{draft.pk}/{name}"
    body = {"version": str(draft.version), **fields}
    return browser(cast, login).post(address, body, follow=True).content.decode()


def test_what_is_new_is_shown_word_by_word(cast, draft):
    shown = browser(cast, "procedure-author").get(f"/workshop/procedures/{draft.pk}").content.decode()
    assert "New since revision 1" in shown
    assert "<ins>slowly </ins>" in shown
    assert "<ins>70 Turn by hand</ins>" in shown
    assert "upper: 0.04" in shown


def test_a_draft_is_for_authors(cast, draft):
    assert browser(cast, "fitter").get(f"/workshop/procedures/{draft.pk}").status_code == 404
    assert "revision 2" not in browser(cast, "fitter").get("/workshop/procedures").content.decode()
    assert "revision 2" in browser(cast, "second-author").get("/workshop/procedures").content.decode()


def test_one_author_hands_in_another_finds_good_and_it_is_published(cast, draft):
    assert "Handed in." in act(cast, "procedure-author", draft, "hand-in", remarks="please look at step 20")
    act(cast, "procedure-author", draft, "find-good")
    draft.refresh_from_db()
    assert draft.state == "in-review"
    assert "Found good." in act(cast, "second-author", draft, "find-good")
    assert "Published." in act(cast, "procedure-author", draft, "publish")


def test_what_must_be_mended_is_said(cast, draft):
    act(cast, "procedure-author", draft, "hand-in")
    assert "What must be mended is missing." in act(cast, "second-author", draft, "send-back", mend=" ")
    shown = act(cast, "second-author", draft, "send-back", mend="name the indicator")
    assert "name the indicator" in shown
    draft.refresh_from_db()
    assert draft.state == "draft"


def test_a_fitter_sees_a_published_procedure_without_buttons(cast, draft):
    first = ProcedureRevision.objects.get(revision=1)
    shown = browser(cast, "fitter").get(f"/workshop/procedures/{first.pk}").content.decode()
    assert "New since revision" not in shown
    assert "/send-back" not in shown
