"""The recurring cast: two sites, people with one role each, and a stranger from the other site."""

import secrets
from collections.abc import Collection
from dataclasses import dataclass
from datetime import timedelta
from functools import cache

from django.contrib.auth.hashers import make_password
from django.utils import timezone
from rest_framework.test import APIClient

from assets.models import Bin, Grant, Site
from services.identity.callers import Caller, as_caller
from services.identity.models import SCOPES, AccessToken, Principal
from services.identity.tokens import PREFIX, digest_of, issue_token


def make_site(code: str, *, time_zone: str = "Atlantic/Faroe", central: bool = False) -> Site:
    site = Site.objects.create(code=code, name=code.title(), time_zone=time_zone, is_central_store=central)
    Bin.objects.create(site=site, code="MAIN", is_default=True)
    return site


Granted = tuple[str, Site | None]


@cache
def _password() -> str:
    return make_password("correct horse")


def make_principals(people: dict[str, tuple[Granted, ...]], *, availability: Collection[str] = ()) -> list[Principal]:
    """Principals with their grants by login: two statements, however many they are."""
    made = [
        Principal(
            login=login,
            name=login.replace("-", " ").title(),
            sees_availability=login in availability,
            password=_password(),
        )
        for login in people
    ]
    Principal.objects.bulk_create(made)
    Grant.objects.bulk_create(
        Grant(principal=principal, role=role, site=site) for principal in made for role, site in people[principal.login]
    )
    return made


def make_principal(login: str, *grants: Granted, availability: bool = False) -> Principal:
    (made,) = make_principals({login: grants}, availability={login} if availability else ())
    return made


def token_for(principal: Principal, scopes: tuple[str, ...] = SCOPES) -> str:
    _, text = issue_token(
        principal_id=principal.pk, name="test", scopes=scopes, expires_at=timezone.now() + timedelta(days=1)
    )
    return text


def client_for(principal: Principal, scopes: tuple[str, ...] = SCOPES) -> APIClient:
    """An HTTP client with a token of this principal."""
    return _client_with(token_for(principal, scopes))


def _client_with(token: str) -> APIClient:
    client = APIClient()
    client.credentials(HTTP_AUTHORIZATION=f"Bearer {token}")
    return client


def clients_for(people: dict[str, Principal]) -> dict[str, APIClient]:
    """A client with a token for each of many: one statement, where `issue_token` makes one each."""
    keys = {name: (secrets.token_hex(6), secrets.token_hex(32)) for name in people}
    AccessToken.objects.bulk_create(
        AccessToken(
            principal=people[name],
            name="test",
            key_id=key_id,
            digest=digest_of(secret),
            scopes=sorted(SCOPES),
            expires_at=timezone.now() + timedelta(days=1),
        )
        for name, (key_id, secret) in keys.items()
    )
    return {name: _client_with(f"{PREFIX}_{key_id}_{secret}") for name, (key_id, secret) in keys.items()}


@dataclass
class Cast:
    """Everybody by role. ``north`` is the site of the story, ``south`` the other one."""

    north: Site
    south: Site
    people: dict[str, Principal]

    def by(self, role: str) -> Caller:
        """A caller for operations and queries."""
        return as_caller(self.people[role])

    def client(self, role: str) -> APIClient:
        return client_for(self.people[role])

    def clients(self) -> dict[str, APIClient]:
        """A client for each role."""
        return clients_for(self.people)


def gather_cast() -> Cast:
    """north: fitter, second-fitter, supervisor, stores, planner, integrator, reader, admin; operator-wide: data-owner,
    procedure-author, second-author, chief (admin everywhere); south: stranger (every site role there)."""
    north, south = make_site("north"), make_site("south", time_zone="Europe/Oslo", central=True)
    granted: dict[str, tuple[Granted, ...]] = {
        role: ((role, north),)
        for role in ("fitter", "supervisor", "stores", "planner", "integrator", "reader", "admin")
    }
    granted["second-fitter"] = (("fitter", north),)
    granted["data-owner"] = (("data-owner", None), ("reader", north))
    for author in ("procedure-author", "second-author"):
        granted[author] = (("procedure-author", None), ("reader", north))
    granted["chief"] = (("admin", None),)
    granted["stranger"] = tuple(
        (role, south) for role in ("fitter", "supervisor", "stores", "planner", "integrator", "admin")
    )
    granted["nobody"] = ()
    made = make_principals(granted, availability={"stores", "planner"})
    return Cast(north=north, south=south, people={one.login: one for one in made})
