"""All revisions of a procedure are for pumps of one configuration."""

import pytest
from django.db import transaction

from jobs.calculations.procedure_rows import document_from
from jobs.calculations.signed_content import content_hash
from jobs.models import ProcedureRevision
from jobs.operations.procedures import draft_revision
from jobs.queries.procedures import head_of, step_rows
from services.api.refusals import InvalidValue
from tests.overhauls import procedure_document

pytestmark = pytest.mark.django_db


def drafted(cast, **changes):
    with transaction.atomic():
        pk, _ = draft_revision(by=cast.by("procedure-author"), document=procedure_document(**changes))
    return ProcedureRevision.objects.select_related("procedure").get(pk=pk)


def test_a_draft_for_other_pumps_does_not_change_an_earlier_draft(cast, workshop):
    first = drafted(cast, code="IN-LINE", configuration="in-line")
    with pytest.raises(InvalidValue) as refused:
        drafted(cast, code="IN-LINE", revision=2, configuration="close-coupled")
    assert [one.pointer for one in refused.value.problems] == ["#/configuration"]
    first = ProcedureRevision.objects.select_related("procedure").get(pk=first.pk)
    assert content_hash(document_from(head_of(first), step_rows(first.pk))) == first.content_hash


def test_the_only_draft_may_turn_to_other_pumps(cast, workshop):
    drafted(cast, code="IN-LINE", configuration="in-line")
    assert drafted(cast, code="IN-LINE", configuration="close-coupled").procedure.configuration == "close-coupled"
