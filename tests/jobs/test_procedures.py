"""Procedures: what is refused before anything is kept, and what becomes of revisions."""

import copy
from typing import Any

import pytest
from django.db import transaction
from hypothesis import given
from hypothesis import strategies as st

from jobs.models import Procedure, ProcedureRevision, Step
from jobs.operations.procedure_loads import load_procedures
from jobs.operations.procedure_reviews import publish
from jobs.operations.procedure_soundness import unsound_places
from jobs.operations.procedures import draft_revision
from jobs.refusals import ProcedureUnsound, RevisionClosed
from services.api.loading import LoadRow
from services.api.refusals import NotAllowed, VersionChanged
from tests.overhauls import procedure_document, release_procedure
from tests.world import gather_cast


def places_of(document):
    return {one.pointer for one in unsound_places(document)}


def changed(pointer, value):
    """The sound document with one place set to another value."""
    document = copy.deepcopy(procedure_document())
    *way, last = [int(one) if one.isdigit() else one for one in pointer.removeprefix("#/").split("/")]
    at: Any = document
    for one in way:
        at = at[one]
    at[last] = value
    return document


STEP = "#/sections/0/steps/0"
ASKED = "#/sections/1/steps/0/characteristics/0"


class TestSoundness:
    def test_the_story_s_procedure_is_sound(self):
        assert unsound_places(procedure_document()) == []

    @pytest.mark.parametrize(
        ("pointer", "value"),
        [
            ("#/code", ""),
            ("#/code", 12),
            ("#/code", "x" * 41),
            ("#/title", "zero \x00 byte"),
            ("#/configuration", "sideways"),
            ("#/revision", 0),
            ("#/revision", True),
            ("#/revision", 2**31),
            ("#/sections", "text"),
            ("#/sections", {"make-safe": []}),
            ("#/sections", ["make-safe"]),
            ("#/sections/0/section", "polishing"),
            ("#/sections/0/steps", "text"),
            ("#/sections/0/steps", []),
            ("#/sections", []),
            ("#/secions", []),
            (f"{STEP}/cautoin", "Lost?"),
            (f"{STEP}/caution", ""),
            (f"{STEP}/caution", "  "),
            (f"{STEP}/signal_word", "beware"),
            (f"{STEP}/signal_word", ""),
            (f"{STEP}/number", "10"),
            (f"{STEP}/number", 20.5),
            (f"{STEP}/instruction", ["do", "this"]),
            (f"{STEP}/tools", "spanner"),
            (f"{STEP}/tools", [1]),
            (f"{STEP}/positions", {"a": 1}),
            (f"{STEP}/hold_point", "yes"),
            (f"{STEP}/conditions", [{"of": "phase of the moon", "one_of": ["full"]}]),
            (f"{STEP}/conditions", "always"),
            (f"{STEP}/computes", "fortune"),
            (f"{STEP}/computes", ["bearing-heating"]),
            (f"{STEP}/computes", {"bearing-heating": "hot"}),
            (f"{STEP}/computes", {"kind": ["bearing-heating"]}),
            (f"{STEP}/characteristics", "run-out"),
            (f"{ASKED}/unit", "furlong"),
            (f"{ASKED}/rule", "guess"),
            (f"{ASKED}/readings", 0),
            (f"{ASKED}/readings", 10_000),
            (f"{ASKED}/decision_rule", "hope"),
            (f"{ASKED}/limits", "small"),
            (f"{ASKED}/limits", {"kind": "numbers", "uper": "0.05"}),
            (f"{ASKED}/instrument_type", ""),
        ],
    )
    def test_a_place_that_cannot_be_used_is_named(self, pointer, value):
        named = places_of(changed(pointer, value))
        parent = pointer.rsplit("/", 1)[0]
        met = any(one == pointer or one.startswith(f"{pointer}/") for one in named)
        assert met or (f"{parent}/signal_word" in named and pointer.endswith("caution"))

    def test_a_caution_without_its_signal_word_and_a_word_without_its_caution_are_both_refused(self):
        assert places_of(changed(f"{STEP}/caution", None)) == {f"{STEP}/caution"}
        assert places_of(changed(f"{STEP}/signal_word", None)) == {f"{STEP}/signal_word"}

    def test_numbers_codes_and_sections_stand_once(self):
        document = procedure_document()
        step = document["sections"][1]["steps"][0]
        step["characteristics"] *= 2
        document["sections"][1]["steps"].append(copy.deepcopy(step))
        document["sections"] = [document["sections"][1], document["sections"][0], *document["sections"][2:]]
        found = places_of(document)
        assert "#/sections" in found
        assert "#/sections/0/steps/0/characteristics/1/code" in found
        assert f"#/sections/0/steps/{len(document['sections'][0]['steps']) - 1}/number" in found

    def test_no_procedure_without_making_safe(self):
        document = procedure_document()
        document["sections"] = document["sections"][1:]
        assert places_of(document) == {"#/sections"}

    ANYTHING = st.recursive(
        st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=12),
        lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3),
        max_leaves=6,
    )

    @given(
        pointer=st.sampled_from(
            ["#/sections", "#/sections/0", "#/sections/0/steps", STEP, f"{STEP}/conditions", f"{STEP}/computes",
             f"{STEP}/number", ASKED, f"{ASKED}/limits", f"{ASKED}/readings", f"{ASKED}/unit", "#/revision"]
        ),
        value=ANYTHING,
    )  # fmt: skip
    def test_nothing_a_file_can_hold_is_more_than_refused(self, pointer, value):
        unsound_places(changed(pointer, value))


@pytest.mark.django_db
class TestRevisions:
    def test_nothing_of_an_unsound_document_is_kept(self):
        with pytest.raises(ProcedureUnsound) as refused, transaction.atomic():
            draft_revision(by=gather_cast().by("procedure-author"), document=changed(f"{STEP}/cautoin", "Lost?"))
        assert [one.pointer for one in refused.value.problems] == [f"{STEP}/cautoin"]
        assert not Procedure.objects.exists()

    def test_a_refused_document_does_not_take_the_others_of_its_file_with_it(self):
        documents = [
            procedure_document(code="FIRST"),
            changed(f"{STEP}/cautoin", "Lost?"),
            procedure_document(code="LAST"),
        ]
        rows = [LoadRow(number, one) for number, one in enumerate(documents, start=1)]
        with transaction.atomic():
            outcomes = load_procedures(by=gather_cast().by("procedure-author"), rows=rows)
        assert [one.outcome for one in outcomes] == ["created", "refused", "created"]
        assert outcomes[1].problems[0].column == f"{STEP}/cautoin"
        assert set(Procedure.objects.values_list("code", flat=True)) == {"FIRST", "LAST"}

    def test_the_same_content_is_left_alone_and_a_draft_may_change_until_it_is_published(self):
        cast = gather_cast()
        by = cast.by("procedure-author")
        first, written = draft_revision(by=by, document=procedure_document())
        assert (written, draft_revision(by=by, document=procedure_document())) == (True, (first, False))
        draft_revision(by=by, document=changed(f"{STEP}/title", "Isolate and lock"))
        assert Step.objects.get(revision=first, number=10).title == "Isolate and lock"
        release_procedure(cast, first)
        with pytest.raises(RevisionClosed):
            draft_revision(by=by, document=procedure_document())

    def test_publishing_the_next_supersedes_the_last(self):
        cast = gather_cast()
        by = cast.by("procedure-author")
        ids = [draft_revision(by=by, document=procedure_document(revision=number))[0] for number in (1, 2)]
        for one in ids:
            release_procedure(cast, one)
        states = ProcedureRevision.objects.order_by("revision").values_list("state", flat=True)
        assert list(states) == ["superseded", "published"]

    def test_a_revision_that_changed_since_it_was_read_is_not_published(self):
        by = gather_cast().by("procedure-author")
        one, _ = draft_revision(by=by, document=procedure_document())
        with pytest.raises(VersionChanged):
            publish(by=by, revision_id=one, expected_version=99)

    @pytest.mark.parametrize("role", ["fitter", "supervisor", "planner", "admin", "data-owner", "stranger"])
    def test_only_authors_write_procedures(self, role):
        with pytest.raises(NotAllowed):
            draft_revision(by=gather_cast().by(role), document=procedure_document())
