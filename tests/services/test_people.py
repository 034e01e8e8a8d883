"""Who somebody is, the tokens they hold, and who is put in and out."""

import io
from datetime import timedelta

import pytest
from django.core.management import CommandError, call_command
from django.test import Client
from django.utils import timezone
from django.utils.html import escape
from rest_framework.test import APIClient

from assets.models import Grant
from services.api.models import IdempotencyKey
from services.api.refusals import known_refusals
from services.changes.models import Change
from services.identity.models import AccessToken, Principal
from tests.world import client_for, token_for

pytestmark = pytest.mark.django_db


def soon(days=30):
    return (timezone.now() + timedelta(days=days)).isoformat()


def bearer(text):
    client = APIClient()
    client.credentials(HTTP_AUTHORIZATION=f"Bearer {text}")
    return client


def make(client, address="/api/v1/access-tokens", *, status=201, key="k", **changed):
    body = {"name": "phone", "scopes": ["read"], "expires_at": soon(), **changed}
    answer = client.post(address, body, format="json", headers={"Idempotency-Key": key})
    assert answer.status_code == status, answer.content
    return answer


def test_me_names_the_roles_with_their_sites(cast):
    answer = cast.client("stores").get("/api/v1/me").json()
    assert (answer["login"], answer["kind"], answer["sees_availability"]) == ("stores", "person", True)
    assert answer["scopes"] == ["availability", "read", "write"]
    assert answer["grants"] == [{"role": "stores", "site": str(cast.north.pk), "site_code": "north"}]


def test_me_of_an_operator_wide_role_names_no_site(cast, django_assert_max_num_queries):
    client = cast.client("chief")
    with django_assert_max_num_queries(5):
        assert client.get("/api/v1/me").json()["grants"] == [{"role": "admin", "site": None, "site_code": None}]


def test_without_a_token_nobody_is_anybody(cast):
    answer = APIClient().get("/api/v1/me")
    assert (answer.status_code, answer.json()["code"]) == (401, "not-signed-in")
    assert bearer("bp_0123456789ab_wrong").get("/api/v1/me").status_code == 401


def test_a_token_is_shown_once_and_then_only_its_name(cast):
    client = cast.client("reader")
    text = make(client).json()["token"]
    assert bearer(text).get("/api/v1/me").json()["login"] == "reader"
    listed = client.get("/api/v1/access-tokens").json()["results"]
    assert text.split("_")[2] not in str(listed)
    assert [one["name"] for one in listed] == ["phone", "test"]


def test_the_text_of_a_token_is_kept_nowhere(cast):
    client = cast.client("reader")
    first = make(client).json()
    kept = IdempotencyKey.objects.get()
    assert kept.body
    assert first["token"].split("_")[2].encode() not in bytes(kept.body)
    assert first["token"].split("_")[2].encode() not in bytes(AccessToken.objects.get(pk=first["id"]).digest)


def test_a_retry_makes_no_second_token_and_does_not_tell_the_text_again(cast):
    client, until = cast.client("reader"), soon()
    first = make(client, expires_at=until).json()
    again = make(client, expires_at=until)
    assert again.headers["Idempotency-Replayed"] == "true"
    assert again.json() == {name: value for name, value in first.items() if name != "token"}
    assert AccessToken.objects.filter(name="phone").count() == 1


def test_a_token_hands_on_no_more_than_it_may_itself(cast):
    narrow = client_for(cast.people["stores"], ("read", "write"))
    refused = make(narrow, scopes=["read", "availability"], status=403).json()
    assert (refused["code"], refused["required_scope"]) == ("insufficient-scope", "availability")


def test_a_token_that_only_reads_makes_none(cast):
    assert make(client_for(cast.people["stores"], ("read",)), status=403).json()["code"] == "insufficient-scope"


@pytest.mark.parametrize("days", [-1, 400])
def test_a_token_lasts_at_most_a_year(cast, days):
    refused = make(cast.client("reader"), expires_at=soon(days), status=422).json()
    assert refused["errors"][0]["pointer"] == "#/expires_at"


def test_a_revoked_token_is_refused_at_once(cast):
    client = cast.client("reader")
    made = make(client).json()
    assert client.delete(f"/api/v1/access-tokens/{made['id']}").status_code == 204
    assert bearer(made["token"]).get("/api/v1/me").status_code == 401
    assert client.delete(f"/api/v1/access-tokens/{made['id']}").status_code == 404


def test_nobody_revokes_another_persons_token_as_their_own(cast):
    made = make(cast.client("reader")).json()
    assert cast.client("stores").delete(f"/api/v1/access-tokens/{made['id']}").status_code == 404
    assert bearer(made["token"]).get("/api/v1/me").status_code == 200


def test_an_expired_token_is_no_token(cast):
    text = token_for(cast.people["reader"])
    AccessToken.objects.filter(principal=cast.people["reader"]).update(expires_at=timezone.now())
    assert bearer(text).get("/api/v1/me").status_code == 401


def add(client, *, status=201, key="k", **body):
    answer = client.post("/api/v1/principals", body, format="json", headers={"Idempotency-Key": key})
    assert answer.status_code == status, answer.content
    return answer.json()


def test_an_administrator_of_the_whole_operator_adds_people(cast):
    made = add(cast.client("chief"), login="ingrid", name="Ingrid Fell", password="three small words")
    assert (made["login"], made["is_active"], made["version"]) == ("ingrid", True, 1)
    assert Change.objects.get(kind="principal.registered").by_id == cast.people["chief"].pk
    signed_in = Client().post("/sign-in", {"login": "Ingrid", "password": "three small words"})
    assert signed_in.status_code == 302


def test_an_administrator_of_one_site_sees_people_and_adds_none(cast):
    client = cast.client("admin")
    assert client.get("/api/v1/principals?login=FITTER").json()["results"][0]["login"] == "fitter"
    assert add(client, login="ingrid", name="Ingrid Fell", status=403)["code"] == "not-allowed"
    assert cast.client("reader").get("/api/v1/principals").status_code == 403


def test_a_login_is_used_once_whatever_its_capitals(cast):
    assert add(cast.client("chief"), login="Fitter", name="Another", status=409)["code"] == "already-there"


def test_a_short_password_is_refused(cast):
    refused = add(cast.client("chief"), login="ingrid", name="Ingrid Fell", password="short", status=422)
    assert refused["errors"][0]["pointer"] == "#/password"


def change(client, who, body, *, seen, status=200):
    headers = {"If-Match": f'"{seen}"'} if seen else {}
    answer = client.patch(f"/api/v1/principals/{who.pk}", body, format="json", headers=headers)
    assert answer.status_code == status, answer.content
    return answer.json()


def test_somebody_put_out_is_out_at_once(cast):
    fitter = cast.client("fitter")
    assert fitter.get("/api/v1/me").status_code == 200
    now = change(cast.client("chief"), cast.people["fitter"], {"is_active": False}, seen=1)
    assert (now["is_active"], now["version"]) == (False, 2)
    assert fitter.get("/api/v1/me").status_code == 401


def test_a_change_says_which_version_was_seen(cast):
    chief, fitter = cast.client("chief"), cast.people["fitter"]
    assert change(chief, fitter, {"name": "Ola"}, seen=None, status=428)["code"] == "version-missing"
    change(chief, fitter, {"name": "Ola"}, seen=1)
    assert change(chief, fitter, {"name": "Kari"}, seen=1, status=412)["current_version"] == 2


def test_nobody_puts_themselves_out(cast):
    change(cast.client("chief"), cast.people["chief"], {"is_active": False}, seen=1, status=422)
    assert Principal.objects.get(login="chief").is_active


@pytest.fixture
def service(cast):
    return add(cast.client("chief"), login="erp", name="ERP", kind="service", key="erp")


def test_a_service_has_no_password_and_gets_its_token_from_an_administrator(cast, service):
    address = f"/api/v1/principals/{service['id']}/access-tokens"
    made = make(cast.client("chief"), address, scopes=["read", "write"]).json()
    assert bearer(made["token"]).get("/api/v1/me").json()["kind"] == "service"
    assert Change.objects.get(kind="access-token.made").noun_id == AccessToken.objects.get(pk=made["id"]).pk
    assert made["token"].split("_")[2] not in str(Change.objects.get(kind="access-token.made").body)
    refused = add(cast.client("chief"), login="e2", name="E", kind="service", password="three small words", status=422)
    assert refused["errors"][0]["pointer"] == "#/password"


def test_people_make_their_own_tokens(cast):
    address = f"/api/v1/principals/{cast.people['reader'].pk}/access-tokens"
    assert make(cast.client("chief"), address, status=422).json()["code"] == "invalid-value"
    assert make(cast.client("admin"), address, status=403).json()["code"] == "not-allowed"


def test_an_administrator_ends_the_token_of_a_lost_phone(cast):
    made = make(cast.client("reader")).json()
    address = f"/api/v1/principals/{cast.people['reader'].pk}/access-tokens"
    assert cast.client("admin").get(address).status_code == 403
    chief = cast.client("chief")
    assert made["id"] in {one["id"] for one in chief.get(address).json()["results"]}
    assert chief.delete(f"{address}/{made['id']}").status_code == 204
    assert bearer(made["token"]).get("/api/v1/me").status_code == 401


def first(password, monkeypatch):
    monkeypatch.setattr("sys.stdin", io.StringIO(f"{password}\n"))
    out = io.StringIO()
    call_command("first_administrator", "astrid", "Astrid Holm", stdout=out)
    return out.getvalue().strip().rpartition(" ")[2]


@pytest.mark.django_db(transaction=True)
def test_the_first_administrator_is_made_at_the_machine_and_only_once(monkeypatch):
    text = first("three small words", monkeypatch)
    assert bearer(text).get("/api/v1/me").json()["grants"] == [{"role": "admin", "site": None, "site_code": None}]
    with pytest.raises(CommandError, match="has an administrator"):
        first("three small words", monkeypatch)
    assert Grant.objects.filter(role="admin").count() == 1


@pytest.mark.django_db(transaction=True)
def test_the_first_administrator_needs_a_password(monkeypatch):
    with pytest.raises(CommandError, match="No password"):
        first("", monkeypatch)
    with pytest.raises(CommandError, match="shorter than 10"):
        first("short", monkeypatch)
    assert Principal.objects.count() == 0


def test_every_problem_has_a_page_that_needs_no_signing_in():
    for code, refusal in known_refusals().items():
        answer = Client().get(f"/problems/{code}")
        assert answer.status_code == 200, code
        assert escape(refusal.title) in answer.content.decode(), code


def test_an_answers_type_leads_to_its_page(cast):
    refused = cast.client("reader").get("/api/v1/principals").json()
    page = Client().get(refused["type"]).content.decode()
    assert refused["title"] in page
    assert "do not include what you asked for" in page


def test_a_code_that_is_none_has_no_page():
    assert Client().get("/problems/made-up").status_code == 404
