"""Taking on the operator's people: principals, grants, demo passwords and fresh tokens."""

import datetime
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import yaml
from django.utils import timezone

from assets.operations.grants import give_role
from assets.operations.people import register_first_administrator, register_principal
from assets.queries.sites import site_ids_by_code
from services.identity.callers import Caller, as_caller
from services.identity.models import AVAILABILITY, READ, WRITE, AccessToken, Principal
from services.identity.tokens import issue_token, revoke_token

TOKEN_NAME = "demo"  # noqa: S105 - what the token is called, not the token
TOKEN_LIFE = datetime.timedelta(days=30)


class NobodyBegins(ValueError):
    """The first of the people must be the administrator of the whole operator."""


def take_on(people_file: Path) -> list[dict[str, Any]]:
    """Everybody of the file with login, password, token and grants; safe to repeat.

    Who is there already stays; grants that are missing are added, those at sites that are not loaded yet are listed as
    ``waiting``. Demo tokens of before end, each gets a new one. Raises `NobodyBegins`.
    """
    people = yaml.safe_load(people_file.read_text(encoding="utf-8"))["people"]
    administrator = people[0]
    if {"role": "admin"} not in administrator["grants"]:
        raise NobodyBegins("The first of the people has no grant of the role admin for the whole operator.")
    sites = site_ids_by_code({grant["site"] for one in people for grant in one["grants"] if "site" in grant})
    known = {one.login: one for one in Principal.objects.filter(login__in=[one["login"] for one in people])}
    first = known.get(administrator["login"]) or register_first_administrator(
        login=administrator["login"], name=administrator["name"], password=password_of(administrator)
    )
    by = as_caller(first)
    known[first.login] = first
    return [_take_on(one, known.get(one["login"]), sites, by) for one in people]


def password_of(one: Mapping[str, Any]) -> str:
    """The demo password of a person, for the pages; a service has none."""
    return "" if one.get("kind") == "service" else f"overhaul-{one['login']}"


def _take_on(one: Mapping[str, Any], known: Principal | None, sites: Mapping[str, Any], by: Caller) -> dict[str, Any]:
    principal = known or register_principal(
        by=by,
        login=one["login"],
        name=one["name"],
        kind=one.get("kind", "person"),
        password=password_of(one),
        sees_availability=bool(one.get("availability")),
    )
    given, waiting = [], []
    for grant in one["grants"]:
        if "site" in grant and grant["site"] not in sites:
            waiting.append(grant)
            continue
        give_role(by=by, principal_id=principal.pk, role=grant["role"], site_id=sites.get(grant.get("site", "")))
        given.append(grant)
    scopes = one.get("scopes") or [READ, WRITE, *([AVAILABILITY] if one.get("availability") else [])]
    return {
        "login": one["login"],
        "name": one["name"],
        "title": one["title"],
        "kind": principal.kind,
        "id": str(principal.pk),
        "password": password_of(one),
        "grants": given,
        "waiting": waiting,
        **_fresh_token(principal, scopes),
    }


def _fresh_token(principal: Principal, scopes: list[str]) -> dict[str, Any]:
    for pk in AccessToken.objects.filter(principal=principal, name=TOKEN_NAME, revoked_at=None).values_list(
        "id", flat=True
    ):
        revoke_token(principal_id=principal.pk, token_id=pk)
    token, text = issue_token(
        principal_id=principal.pk, name=TOKEN_NAME, scopes=scopes, expires_at=timezone.now() + TOKEN_LIFE
    )
    return {"token": text, "scopes": token.scopes, "token_expires_at": token.expires_at.isoformat()}
