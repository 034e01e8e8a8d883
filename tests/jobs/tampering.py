"""Ways of tampering with the records of three closed jobs by SQL, and what must be said of each.

The second job has a concession, and a part of its kit came back.
"""

from collections.abc import Sequence
from typing import Any

SECOND = "(SELECT job_id FROM jobs_recordlink WHERE number = 2)"
# What is altered in the record of the second: the statement, and words that must be said.
ALTERED = {
    "a measured value": (
        f"UPDATE jobs_measurement SET value = 0.03 WHERE verdict = 'reject' AND job_id = {SECOND}",
        "/value: 0.090000 was signed; now it is 0.030000.",
    ),
    "a verdict": (
        f"UPDATE jobs_measurement SET verdict = 'accept' WHERE verdict = 'reject' AND job_id = {SECOND}",
        "/verdict: reject was signed; now it is accept.",
    ),
    "a measurement deleted": (
        f"DELETE FROM jobs_measurement WHERE verdict = 'reject' AND job_id = {SECOND}",
        "was signed; it is gone.",
    ),
    "a measurement put in": (
        (
            "INSERT INTO jobs_measurement SELECT (jsonb_populate_record(m, jsonb_build_object('id', gen_random_uuid(), "
            f"'attempt', 7))).* FROM jobs_measurement m WHERE verdict = 'reject' AND job_id = {SECOND}"
        ),
        "was not there when it was signed.",
    ),
    "limits": (
        (
            "UPDATE jobs_jobcharacteristic SET upper = 1 WHERE code = 'shaft-run-out' AND job_step_id IN "
            f"(SELECT id FROM jobs_jobstep WHERE job_id = {SECOND})"
        ),
        "/upper: 0.050000 was signed; now it is 1.000000.",
    ),
    "who did a step": (
        (
            "UPDATE jobs_jobstep SET done_by_id = (SELECT id FROM identity_principal WHERE login = 'reader') "
            f"WHERE number = 20 AND job_id = {SECOND}"
        ),
        "/done_by: ",
    ),
    "the note of a step": (
        f"UPDATE jobs_jobstep SET note = 'Straightened.' WHERE number = 20 AND job_id = {SECOND}",
        "/note: Turned by hand. was signed; now it is Straightened..",
    ),
    "a step deleted": (f"DELETE FROM jobs_jobstep WHERE number = 50 AND job_id = {SECOND}", "was signed; it is gone."),
    "the extent of a concession": (
        f"UPDATE jobs_nonconformity SET extent = 'For good.' WHERE job_id = {SECOND}",
        "/extent: This shaft, until its next overhaul. was signed; now it is For good..",
    ),
    "a nonconformity deleted": (f"DELETE FROM jobs_nonconformity WHERE job_id = {SECOND}", "was signed; it is gone."),
    "a fitted part": (
        f"UPDATE jobs_fittedpart SET quantity = 2 WHERE job_id = {SECOND}",
        "/quantity: 1.000 was signed; now it is 2.000.",
    ),
    "a part deleted": (f"DELETE FROM jobs_fittedpart WHERE job_id = {SECOND}", "was signed; it is gone."),
    "an issue": (
        f"UPDATE kits_movement SET quantity = -2 WHERE kind = 'issue' AND job_id = {SECOND}",
        "/quantity: -1.000 was signed; now it is -2.000.",
    ),
    "the pump": (
        f"UPDATE jobs_job SET pump_id = gen_random_uuid() WHERE id = {SECOND}",
        "The job that was signed off, or what it belongs to, is gone.",
    ),
    "the state": (f"UPDATE jobs_job SET state = 'cancelled' WHERE id = {SECOND}", "now it is cancelled."),
    "a signature's name": (
        (
            "UPDATE jobs_signoff SET by_id = (SELECT id FROM identity_principal WHERE login = 'reader') "
            f"WHERE kind = 'completion' AND job_id = {SECOND}"
        ),
        "/signature/by: ",
    ),
    "a hold point's signature": (
        f"UPDATE jobs_signoff SET remark = 'never looked' WHERE kind = 'hold-point' AND job_id = {SECOND}",
        "/remark: looked at it was signed; now it is never looked.",
    ),
    "what a hold point was signed over": (
        (
            "UPDATE jobs_signoff SET content = jsonb_set(content, '{step,note}', '\"x\"') "
            f"WHERE kind = 'hold-point' AND job_id = {SECOND}"
        ),
        "the release of step 30 was signed over is not what its hash says",
    ),
    "a concession's signature deleted": (
        f"DELETE FROM jobs_signoff WHERE kind = 'concession' AND job_id = {SECOND}",
        "was signed; it is gone.",
    ),
    "what was signed, made unreadable": (
        (
            """UPDATE jobs_signoff SET content = '{"form": 1, "moved": [1], "signature": 2}' """
            f"WHERE kind = 'completion' AND job_id = {SECOND}"
        ),
        "What was signed has no form that is known.",
    ),
    "what was signed": (
        (
            "UPDATE jobs_signoff SET content = jsonb_set(content, '{measurements,0,value}', '\"0.030000\"') "
            f"WHERE kind = 'completion' AND job_id = {SECOND}"
        ),
        "its sign-off was signed over is not what its hash says",
    ),
}

DELETE_SECOND, DELETE_THIRD = (
    (
        *(
            f"DELETE FROM {table} WHERE job_id = (SELECT job_id FROM jobs_recordlink WHERE number = {number})"
            for table in ("jobs_signoff", "jobs_measurement", "jobs_jobstep", "jobs_fittedpart")
        ),
        f"DELETE FROM jobs_job WHERE id = (SELECT job_id FROM jobs_recordlink WHERE number = {number})",
        f"DELETE FROM jobs_recordlink WHERE number = {number}",
    )
    for number in (2, 3)
)
# What is done to the chain of three: the faults that are found, by place of the job, and what is said.
ATTACKS: dict[str, tuple[Sequence[str], list[tuple[Any, str]], str]] = {
    "a link deleted": (
        ["DELETE FROM jobs_recordlink WHERE number = 2"],
        [(3, "link-missing"), (2, "link-missing")],
        "Link 2 was deleted: link 3 comes next.",
    ),
    "a job deleted with all that belongs to it": (DELETE_SECOND, [(3, "link-missing")], "Link 2 was deleted"),
    "a job deleted behind its link": (
        [f"DELETE FROM jobs_job WHERE id = {SECOND}"],
        [(None, "job-missing")],
        "The job that was signed off, or what it belongs to, is gone.",
    ),
    "a record deleted behind its link": (
        [f"DELETE FROM jobs_signoff WHERE kind = 'completion' AND job_id = {SECOND}"],
        [(2, "record-missing")],
        "The record that the link seals was deleted.",
    ),
    "the gap closed by new numbers": (
        ["DELETE FROM jobs_recordlink WHERE number = 2", "UPDATE jobs_recordlink SET number = 2 WHERE number = 3"],
        [(3, "order-changed"), (3, "order-changed"), (2, "link-missing")],
        "Link 2 was not made to follow link 1 as it stands",
    ),
    "two links exchanged": (
        [
            "UPDATE jobs_recordlink SET number = 99 WHERE number = 2",
            "UPDATE jobs_recordlink SET number = 2 WHERE number = 3",
            "UPDATE jobs_recordlink SET number = 3 WHERE number = 99",
        ],
        [(3, "order-changed")] * 2 + [(2, "order-changed")] * 2,
        "Link 3 was made as link 2: the order of the chain was changed.",
    ),
    "the beginning deleted": (
        ["DELETE FROM jobs_recordlink WHERE number = 1"],
        [(2, "link-missing"), (1, "link-missing")],
        "Link 1 was deleted: link 2 comes next.",
    ),
    "a seal made up": (
        ["UPDATE jobs_recordlink SET mac = repeat('a', 64) WHERE number = 3"],
        [(3, "seal-broken")],
        "it was altered, or put in by somebody without the key",
    ),
    "a time altered": (
        ["UPDATE jobs_recordlink SET at = at - interval '1 day' WHERE number = 1"],
        [(1, "seal-broken")],
        "Link 1 does not carry the seal of what it holds",
    ),
    "two jobs exchanged under their links": (
        [
            (
                "UPDATE jobs_recordlink a SET job_id = b.job_id, sign_off_id = b.sign_off_id, "
                "content_hash = b.content_hash FROM jobs_recordlink b WHERE a.number + b.number = 3"
            ),
        ],
        [(2, "seal-broken"), (1, "seal-broken")],
        "link 1",
    ),
    "said to be taken over, though it was signed": (
        [
            (
                """UPDATE jobs_job SET state_reasons = '[{"code": "taken-over"}]' WHERE id = """
                "(SELECT job_id FROM jobs_recordlink WHERE number = 3)"
            ),
            "DELETE FROM jobs_recordlink WHERE number = 3",
        ],
        [(3, "link-missing")],
        "The job is closed and no link of the chain seals its record.",
    ),
}
