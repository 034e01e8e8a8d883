"""The chain over the records of closed jobs: each way of tampering with it by SQL is found, and told in plain words."""

import contextlib
import io
import json

import pytest
from django.core.management import CommandError, call_command
from django.db import IntegrityError, connection, transaction

from jobs.calculations.signed_content import content_hash
from jobs.models import RecordLink, SignOff
from jobs.queries.record_chain import Verified, verify_all
from tests.closed_jobs import closed_job, finished_job
from tests.jobs.tampering import ALTERED, ATTACKS, DELETE_THIRD, SECOND
from tests.overhauls import hands

pytestmark = pytest.mark.django_db


TABLES = (
    "jobs_recordlink", "jobs_signoff", "jobs_measurement", "jobs_jobstep", "jobs_jobcharacteristic", "jobs_job",
    "jobs_fittedpart", "jobs_nonconformity", "kits_movement",
)  # fmt: skip


@pytest.fixture
def closed(cast, workshop):
    """Three closed jobs; the second with a concession and a part that came back."""
    return [
        closed_job(cast, workshop),
        closed_job(cast, workshop, bent=True, returned=(workshop.o_ring.pk,)),
        closed_job(cast, workshop),
    ]


def tamper(*statements):
    """As the owner of the tables, who switches triggers off and takes foreign keys away."""
    with connection.cursor() as cursor:
        cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
        cursor.execute(
            "SELECT conrelid::regclass, conname FROM pg_constraint WHERE contype = 'f' "
            "AND confrelid::regclass::text ~ '^(jobs|assets)_'"
        )
        for table, name in cursor.fetchall():
            cursor.execute(f'ALTER TABLE {table} DROP CONSTRAINT "{name}"')
        for table in TABLES:
            cursor.execute(f"ALTER TABLE {table} DISABLE TRIGGER USER")
        for one in statements:
            cursor.execute(one)
            assert cursor.rowcount > 0, one
        for table in TABLES:
            cursor.execute(f"ALTER TABLE {table} ENABLE TRIGGER USER")


def faults(head=None):
    return [(one.job, one.fault.code) for one in verify_all(Verified(), head=head)]


def words(head=None):
    return "\n".join(one.words() for one in verify_all(Verified(), head=head))


def verify(**options):
    out, err = io.StringIO(), io.StringIO()
    try:
        call_command("verify_records", stdout=out, stderr=err, **options)
    except CommandError as error:
        return 1, err.getvalue() + str(error)
    return 0, out.getvalue()


def test_each_closed_job_gets_the_next_link(closed):
    rows = list(RecordLink.objects.order_by("number").values_list("number", "job_id"))
    assert rows == [(1, closed[0].pk), (2, closed[1].pk), (3, closed[2].pk)]


def test_an_untouched_chain_holds_and_the_command_says_what_it_looked_at(closed):
    code, said = verify()
    assert code == 0
    assert "The records hold: 3 records in the chain, 7 signatures, keys test-1." in said
    assert "whether the end was cut off is not known" in said


def test_an_empty_chain_holds(db):
    assert verify()[0] == 0


def test_the_keys_are_nowhere_in_the_database(closed, settings):
    row = SignOff.objects.filter(kind="completion").values().first()
    for key in settings.RECORD_KEYS.values():
        assert key.hex() not in json.dumps(row, default=str)


@contextlib.contextmanager
def undone():
    """What is done within is undone."""
    point = transaction.savepoint()
    yield
    transaction.savepoint_rollback(point)


def test_whatever_of_a_record_is_altered_by_sql_is_found_with_its_job_and_place(closed):
    for what, (statement, said) in ALTERED.items():
        with undone():
            tamper(statement)
            assert {job for job, _ in faults()} == {closed[1].number}, what
            assert said in words(), what
            code, told = verify()
            assert code == 1, what
            assert closed[1].number in told, what


def test_who_rewrites_record_hash_and_tables_together_still_lacks_the_seal(closed):
    """Everything made to agree, the link's hash too: only the key is missing."""
    content = SignOff.objects.get(kind="completion", job=closed[1]).content
    next(one for one in content["steps"] if one["number"] == 20)["note"] = "x"
    digest = content_hash(content)
    tamper(
        f"UPDATE jobs_jobstep SET note = 'x' WHERE number = 20 AND job_id = {SECOND}",
        f"UPDATE jobs_signoff SET content = $json${json.dumps(content)}$json$, content_hash = '{digest}' "
        f"WHERE kind = 'completion' AND job_id = {SECOND}",
        f"UPDATE jobs_recordlink SET content_hash = '{digest}' WHERE number = 2",
    )
    assert faults() == [(closed[1].number, "seal-broken")]


def test_deleting_exchanging_and_making_up_links_is_found(closed):
    with connection.cursor() as cursor:
        cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
        cursor.execute("ALTER TABLE jobs_recordlink DROP CONSTRAINT jobs_recordlink_job_id_key")
        cursor.execute("ALTER TABLE jobs_recordlink DROP CONSTRAINT jobs_recordlink_sign_off_id_key")
    for what, (statements, expected, said) in ATTACKS.items():
        with undone():
            tamper(*statements)
            if what != "a job deleted behind its link":
                numbers = [(closed[place - 1].number, code) for place, code in expected]
                assert faults() == numbers, what
            assert said in words(), what
            assert verify()[0] == 1, what


def test_jobs_and_signatures_outside_the_chain_are_looked_at_too(cast, workshop):
    job = finished_job(cast, workshop)
    with undone():
        tamper(f"UPDATE jobs_job SET state = 'closed' WHERE id = '{job.pk}'")
        assert faults() == [(job.number, "link-missing")]
    tamper("UPDATE jobs_signoff SET content = '{}' WHERE kind = 'hold-point'")
    assert faults() == [(job.number, "signature-altered")]


def test_a_cut_end_is_found_against_an_exported_head_only(cast, workshop, closed, tmp_path):
    """The end with all that belongs to it: what is left is a whole chain."""
    head = tmp_path / "head.json"
    call_command("export_chain_head", str(head), stdout=io.StringIO())
    kept = json.loads(head.read_text())
    assert (kept["number"], kept["mac"]) == (3, RecordLink.objects.get(number=3).mac)
    assert verify(head=head)[0] == 0
    tamper(*DELETE_THIRD)
    assert verify()[0] == 0
    code, said = verify(head=head)
    assert code == 1
    assert "The exported head is link 3, but the chain ends with link 2: its end was cut off." in said
    closed_job(cast, workshop)
    assert verify()[0] == 0
    assert "Link 3 carries another seal than the exported head" in verify(head=head)[1]


@pytest.mark.parametrize("content", ["", "[]", '{"number": "x"}', '{"mac": "a"}'])
def test_a_file_that_is_no_head_is_refused(db, tmp_path, content):
    head = tmp_path / "head.json"
    head.write_text(content)
    assert "is no head that export_chain_head wrote" in verify(head=head)[1]


def test_a_new_key_seals_from_then_on_and_the_old_one_still_proves(cast, workshop, settings):
    closed_job(cast, workshop)
    settings.RECORD_KEY = "test-2"
    closed_job(cast, workshop)
    assert list(RecordLink.objects.order_by("number").values_list("key_id", flat=True)) == ["test-1", "test-2"]
    code, said = verify()
    assert (code, "keys test-1, test-2" in said) == (0, True)


def test_a_key_that_was_thrown_away_is_told_and_is_not_called_an_alteration(cast, workshop, settings):
    job = closed_job(cast, workshop)
    settings.RECORD_KEYS = {"test-2": settings.RECORD_KEYS["test-2"]}
    assert faults() == [(job.number, "key-missing")]
    assert verify()[0] == 1


def test_what_changes_later_with_good_reason_alters_nothing(cast, workshop, closed):
    hand = hands(cast)
    pump = f"pumps/{workshop.pump.pk}"
    hand["integrator"].patch(pump, {"tag": "P-117A"}, seen=pump)
    tool = f"instruments/{workshop.instruments['dial'].pk}"
    hand["supervisor"].patch(tool, {"calibration_due": "2031-01-01"}, seen=tool)
    assert faults() == []


MADE_UP = (
    "INSERT INTO jobs_recordlink (number, job_id, sign_off_id, content_hash, at, previous_mac, key_id, mac) SELECT 9, "
    "gen_random_uuid(), gen_random_uuid(), content_hash, at, mac, key_id, repeat('b', 64) FROM jobs_recordlink"
)


def test_links_are_neither_changed_nor_taken_out_nor_skipped(cast, workshop):
    closed_job(cast, workshop)
    with connection.cursor() as cursor:
        cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
        for statement, said in (
            ("UPDATE jobs_recordlink SET mac = repeat('a', 64)", "append-only"),
            ("DELETE FROM jobs_recordlink", "append-only"),
            ("TRUNCATE jobs_recordlink", "append-only"),
            (MADE_UP, "has no gap"),
        ):
            with pytest.raises(IntegrityError, match=said), transaction.atomic():
                cursor.execute(statement)


def test_a_thousand_links_are_read_in_batches_with_few_statements(closed, django_assert_max_num_queries, monkeypatch):
    """Each batch asks the same number of times; here a batch is one record."""
    monkeypatch.setattr("jobs.queries.record_chain.AT_A_TIME", 1)
    with django_assert_max_num_queries(3 * 16 + 6):
        assert faults() == []
    monkeypatch.setattr("jobs.queries.record_chain.AT_A_TIME", 200)
    with django_assert_max_num_queries(16 + 6):
        assert faults() == []


def test_the_record_over_http_shows_content_hash_link_and_that_it_holds(cast, workshop):
    hand, job = hands(cast), finished_job(cast, workshop)
    before = hand["reader"].get(f"jobs/{job.pk}/record")
    assert (before["signed"], before["link"], before["verification"]["holds"]) == (False, None, None)
    hand["supervisor"].post(f"jobs/{job.pk}/sign-off", {"record": before["content_hash"]}, seen=f"jobs/{job.pk}")
    after = hand["reader"].get(f"jobs/{job.pk}/record")
    assert (after["signed"], after["verification"]["holds"], after["link"]["number"]) == (True, True, 1)
    assert after["content"]["signature"]["seen"] == before["content_hash"]
    assert after["content"]["as_stood"]["pump_tag"] == "P-117"
    tamper("UPDATE jobs_measurement SET verdict = 'reject' WHERE attempt = 1")
    altered = hand["reader"].get(f"jobs/{job.pk}/record")["verification"]
    assert altered["holds"] is False
    assert altered["faults"][0]["code"] == "record-altered"
    hand["stranger"].get(f"jobs/{job.pk}/record", status=404)


def test_a_printed_hash_leads_to_its_record(cast, workshop):
    hand, job = hands(cast), closed_job(cast, workshop)
    digest = SignOff.objects.get(kind="completion").content_hash
    for written in (digest, digest.removeprefix("sha256:"), digest.removeprefix("sha256:").upper()):
        found = hand["reader"].get(f"record-verifications/{written}")
        assert (found["number"], found["verification"]["holds"]) == (job.number, True)
    assert found["signed_by"] == "Supervisor"
    hand["stranger"].get(f"record-verifications/{digest}", status=404)
    assert hand["reader"].get(f"record-verifications/{'0' * 64}", status=404)["code"] == "not-found"
    assert hand["reader"].get("record-verifications/abc", status=422)["code"] == "hash-not-read"


def test_the_record_of_a_key_that_is_not_at_hand_is_neither_proved_nor_refuted(cast, workshop, settings):
    job = closed_job(cast, workshop)
    settings.RECORD_KEYS = {}
    verdict = hands(cast)["reader"].get(f"jobs/{job.pk}/record")["verification"]
    assert verdict["holds"] is None
    assert verdict["faults"][0]["code"] == "key-missing"
