"""The recurring cast: two sites, people with one role each, and a stranger from the other site."""

from dataclasses import dataclass
from datetime import timedelta
from typing import Any

from django.utils import timezone
from rest_framework.test import APIClient

from assets.models import Bin, Grant, Site
from services.identity.callers import Caller, as_caller
from services.identity.models import SCOPES, Principal
from services.identity.tokens import issue_token


def make_site(code: str, *, time_zone: str = "Atlantic/Faroe", central: bool = False) -> Site:
    site = Site.objects.create(code=code, name=code.title(), time_zone=time_zone, is_central_store=central)
    Bin.objects.create(site=site, code="MAIN", is_default=True)
    return site


def make_principal(login: str, *grants: tuple[str, Site | None], availability: bool = False) -> Principal:
    principal = Principal(login=login, name=login.replace("-", " ").title(), sees_availability=availability)
    principal.set_password("correct horse")
    principal.save()
    Grant.objects.bulk_create([Grant(principal=principal, role=role, site=site) for role, site in grants])
    return principal


def token_for(principal: Principal, scopes: tuple[str, ...] = SCOPES) -> str:
    _, text = issue_token(
        principal_id=principal.pk, name="test", scopes=scopes, expires_at=timezone.now() + timedelta(days=1)
    )
    return text


def client_for(principal: Principal, scopes: tuple[str, ...] = SCOPES) -> APIClient:
    """An HTTP client with a token of this principal."""
    client = APIClient()
    client.credentials(HTTP_AUTHORIZATION=f"Bearer {token_for(principal, scopes)}")
    return client


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


def gather_cast() -> Cast:
    """north: fitter, second-fitter, supervisor, stores, planner, integrator, reader, admin; operator-wide: data-owner,
    procedure-author, second-author, chief (admin everywhere); south: stranger (every site role there)."""
    north, south = make_site("north"), make_site("south", time_zone="Europe/Oslo", central=True)
    people: dict[str, Any] = {}
    for role in ("fitter", "supervisor", "stores", "planner", "integrator", "reader", "admin"):
        people[role] = make_principal(role, (role, north), availability=role in {"stores", "planner"})
    people["second-fitter"] = make_principal("second-fitter", ("fitter", north))
    people["data-owner"] = make_principal("data-owner", ("data-owner", None), ("reader", north))
    people["procedure-author"] = make_principal("procedure-author", ("procedure-author", None), ("reader", north))
    people["second-author"] = make_principal("second-author", ("procedure-author", None), ("reader", north))
    people["chief"] = make_principal("chief", ("admin", None))
    people["stranger"] = make_principal(
        "stranger", *((role, south) for role in ("fitter", "supervisor", "stores", "planner", "integrator", "admin"))
    )
    people["nobody"] = make_principal("nobody")
    return Cast(north=north, south=south, people=people)
