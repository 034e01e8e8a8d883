"""Photos and documents come in by what they are and go out as downloads, to whoever may see the job."""

import base64
import hashlib
import io
import uuid

import pytest
from django.core.files.storage import default_storage
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import transaction
from django.test import override_settings
from PIL import Image

from jobs.models import Attachment, StoredFile
from jobs.operations.procedures import draft_revision
from jobs.queries.job_records import record_contents
from services.settings.environment import attachment_storage
from tests.jobs.calculations.test_attached_files import blank, document, picture, several_pictures
from tests.jobs.test_findings import find
from tests.jobs.test_overhaul import measure, planned, safe, started
from tests.overhauls import procedure_document, release_procedure

pytestmark = pytest.mark.django_db


def attach(hand, job, content, name="ring.jpg", status=201, by="fitter", **more):
    body = {"content": base64.b64encode(content).decode(), "name": name, **more}
    return hand[by].post(f"jobs/{job['id']}/attachments", body, status=status)


def download(cast, attachment, role="reader"):
    return cast.client(role).get(f"/api/v1/attachments/{attachment['id']}/content")


def test_a_photo_sent_as_a_form_is_kept_without_its_place(cast, workshop, hand):
    job = safe(workshop, hand)
    sent = picture("JPEG", place=True)
    form = {"file": SimpleUploadedFile("IMG 1.jpeg", sent, "image/jpeg"), "step": "20", "caption": "outer ring"}
    answer = cast.client("fitter").post(f"/api/v1/jobs/{job['id']}/attachments", form, format="multipart")
    assert answer.status_code == 201, answer.content
    made = answer.json()
    assert (made["name"], made["media_type"], made["step"], made["cleaned"]) == ("IMG 1.jpg", "image/jpeg", 20, True)
    assert made["received_sha256"] == hashlib.sha256(sent).hexdigest()
    kept = b"".join(download(cast, made).streaming_content)
    assert made["sha256"] == hashlib.sha256(kept).hexdigest()
    assert dict(Image.open(io.BytesIO(kept)).getexif().get_ifd(0x8825)) == {}


def test_what_is_handed_out_is_a_download_and_runs_nowhere(cast, workshop, hand):
    job = safe(workshop, hand)
    answer = download(cast, attach(hand, job, document(), "Prüfblatt\u202efdp.html"))
    assert answer["Content-Type"] == "application/pdf"
    assert answer["Content-Disposition"].startswith('attachment; filename="Pr_fblatt')
    assert ".html" not in answer["Content-Disposition"]
    assert answer["X-Content-Type-Options"] == "nosniff"
    assert answer["Content-Security-Policy"].startswith("sandbox; default-src 'none'")
    assert "private" in answer["Cache-Control"]


def test_the_content_tells_what_a_file_is_and_not_its_name(workshop, hand):
    job = safe(workshop, hand)
    made = attach(hand, job, picture("PNG"), "photo.exe")
    assert (made["name"], made["media_type"]) == ("photo.png", "image/png")
    refused = attach(hand, job, b"<html><script>alert(1)</script></html>", "photo.jpg", status=422)
    assert refused["code"] == "file-not-taken"


def test_a_picture_of_too_many_points_is_refused_with_what_to_do(workshop, hand):
    job = safe(workshop, hand)
    refused = attach(hand, job, blank(9000, 9000), "poster.png", status=422)
    assert (refused["code"], refused["errors"][0]["pointer"]) == ("file-not-taken", "#/file")
    assert "9000 x 9000 points, 81 million together; at most 52 million" in refused["detail"]
    assert "scaled down" in refused["remedy"]


def test_a_photo_of_a_telephone_that_takes_several_at_once_is_kept(cast, workshop, hand):
    job = safe(workshop, hand)
    made = attach(hand, job, several_pictures(), "seal.jpg")
    assert (made["media_type"], made["cleaned"]) == ("image/jpeg", True)
    assert Image.open(io.BytesIO(b"".join(download(cast, made).streaming_content))).size == (64, 48)


def test_the_same_content_twice_is_kept_once(workshop, hand):
    job = safe(workshop, hand)
    content = picture("JPEG", place=True)
    first, second = attach(hand, job, content, step=10), attach(hand, job, content, step=20)
    assert first["id"] != second["id"]
    assert first["sha256"] == second["sha256"]
    assert StoredFile.objects.count() == 1


def test_a_file_belongs_to_one_thing_of_the_job(workshop, hand):
    job = safe(workshop, hand)
    found = find(hand, job, needs_decision=True)
    measured = measure(hand, job, 20, "shaft-run-out", ["0"] * 4, "mm", workshop.instruments["dial"])
    content = picture("PNG")
    for name, value in (
        ("finding", found["id"]),
        ("nonconformity", found["nonconformity"]),
        ("measurement", measured["id"]),
    ):
        made = attach(hand, job, content, **{name: value})
        listed = hand["reader"].get(f"jobs/{job['id']}/attachments?{name}={value}")["results"]
        assert [one["id"] for one in listed] == [made["id"]]
    both = attach(hand, job, content, finding=found["id"], step=20, status=422)
    assert both["errors"][0]["pointer"] == "#/step"
    assert attach(hand, job, content, measurement=found["id"], status=404)["code"] == "not-found"


def test_whoever_may_not_see_the_job_does_not_see_its_files(cast, workshop, hand):
    job = safe(workshop, hand)
    made = attach(hand, job, picture("JPEG"))
    assert download(cast, made, "stranger").status_code == 404
    assert download(cast, made, "nobody").status_code == 404
    assert attach(hand, job, picture("PNG"), by="reader", status=403)["code"] == "not-allowed"


@override_settings(ATTACHMENT_MOST_BYTES=1000)
def test_a_file_that_is_too_large_is_refused(workshop, hand):
    job = safe(workshop, hand)
    assert attach(hand, job, picture("PNG"), status=413)["code"] == "attachment-too-large"
    assert Attachment.objects.count() == 0


@override_settings(ATTACHMENT_MOST_BYTES=1000)
def test_a_form_that_is_far_too_large_is_refused_unread(cast, workshop, hand):
    job = safe(workshop, hand)
    form = {"file": SimpleUploadedFile("a.jpg", b"\xff" * 100_000, "image/jpeg")}
    answer = cast.client("fitter").post(f"/api/v1/jobs/{job['id']}/attachments", form, format="multipart")
    assert answer.status_code == 413


def test_there_is_a_file_and_it_can_be_read(workshop, hand):
    job = safe(workshop, hand)
    path = f"jobs/{job['id']}/attachments"
    assert hand["fitter"].post(path, {"name": "x"}, status=422)["errors"][0]["pointer"] == "#/file"
    assert hand["fitter"].post(path, {"content": "%%%"}, status=422)["errors"][0]["pointer"] == "#/content"
    assert attach(hand, job, picture("JPEG")[:400], status=422)["code"] == "file-not-taken"


def test_a_copy_that_is_known_is_not_sent_again(cast, workshop, hand):
    job = safe(workshop, hand)
    made = attach(hand, job, picture("JPEG"))
    tag = download(cast, made)["ETag"]
    again = cast.client("reader").get(f"/api/v1/attachments/{made['id']}/content", headers={"If-None-Match": tag})
    assert again.status_code == 304


def test_a_step_that_wants_photos_is_not_confirmed_without_them(cast, workshop, hand):
    document = procedure_document(revision=2)
    wanted = ["the raceway", "the shoulder", {"shows": "the cage", "needed": False}]
    document["sections"][1]["steps"][0]["photos"] = wanted
    with transaction.atomic():
        revision_id, _ = draft_revision(by=cast.by("procedure-author"), document=document)
        release_procedure(cast, revision_id)
    job = safe(workshop, hand)
    refused = hand["fitter"].post(f"jobs/{job['id']}/steps/50/confirm", status=409)
    assert refused["code"] == "hold-point-waits"
    measure(hand, job, 20, "shaft-run-out", ["0", "0.01", "0.02", "0"], "mm", workshop.instruments["dial"])
    content = picture("JPEG")
    for _ in range(2):
        attach(hand, job, content, step=20)
    refused = hand["fitter"].post(f"jobs/{job['id']}/steps/20/confirm", status=409)
    assert "Photos still wanted: 1." in refused["detail"]
    attach(hand, job, picture("PNG"), step=20)
    assert hand["fitter"].post(f"jobs/{job['id']}/steps/20/confirm")["state"] == "done"


def test_no_photo_of_a_later_step_before_making_safe(workshop, hand):
    job = started(workshop, hand)
    assert attach(hand, job, picture("JPEG"), step=20, status=409)["code"] == "make-safe-first"
    attach(hand, job, picture("JPEG"), step=10)
    assert attach(hand, planned(workshop, hand), picture("JPEG"), status=409)["code"] == "wrong-job-state"


def test_what_was_attached_is_signed_by_its_hash(cast, workshop, hand):
    job = safe(workshop, hand)
    made = attach(hand, job, picture("JPEG"))
    (kept,) = record_contents([uuid.UUID(job["id"])])[uuid.UUID(job["id"])]["attachments"]
    assert (kept["id"], kept["name"], kept["sha256"]) == (made["id"], "ring.jpg", made["sha256"])


def test_a_bucket_is_used_where_one_is_named(monkeypatch):
    assert attachment_storage("/attachments")["OPTIONS"] == {"location": "/attachments"}
    monkeypatch.setenv("ATTACHMENTS_BUCKET", "pump-photos")
    monkeypatch.setenv("ATTACHMENTS_ENDPOINT", "https://objects.example.org")
    chosen = attachment_storage("/attachments")
    assert chosen["BACKEND"] == "storages.backends.s3.S3Storage"
    assert chosen["OPTIONS"]["bucket_name"] == "pump-photos"
    assert chosen["OPTIONS"]["endpoint_url"] == "https://objects.example.org"
    assert chosen["OPTIONS"]["region_name"] is None


def test_a_photo_that_a_phone_sends_twice_is_attached_once(workshop, hand):
    job, known, content = safe(workshop, hand), "01990000-0000-7000-8000-0000000000f1", picture("JPEG")
    first = attach(hand, job, content, id=known)
    assert attach(hand, job, content, id=known) == first
    attach(hand, job, picture("PNG"), id=known, status=409)
    assert Attachment.objects.count() == 1


def test_two_photos_of_one_name_are_not_taken_for_a_retry(cast, workshop, hand):
    job = safe(workshop, hand)
    client = cast.client("fitter")
    client.credentials(**client._credentials, HTTP_IDEMPOTENCY_KEY="0199a0c4-0000-7000-8000-0000000000e7")
    place = f"/api/v1/jobs/{job['id']}/attachments"

    def sent(content):
        form = {"file": SimpleUploadedFile("image.jpg", content, "image/jpeg")}
        return client.post(place, form, format="multipart")

    photo = picture("JPEG")
    first, again, other = sent(photo), sent(photo), sent(picture("JPEG"))
    assert first.status_code == 201, first.content
    assert (again.status_code, again.json()["id"]) == (201, first.json()["id"])
    assert (other.status_code, other.json()["code"]) == (422, "idempotency-key-reused")


def test_a_file_that_the_store_lost_is_told_in_words(cast, workshop, hand):
    job = safe(workshop, hand)
    made = attach(hand, job, picture("JPEG"))
    default_storage.delete(StoredFile.objects.get().place)
    answer = download(cast, made)
    assert answer.status_code == 404
    assert "is not in the store" in answer.json()["detail"]
