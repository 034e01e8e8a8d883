"""Who may do what where: every route, every method, every role, at one's own site and at another's.

The routes come from the resolver: one that is not named below fails the first test.
"""

import pytest
from django.db import transaction
from django.urls import get_resolver
from rest_framework.test import APIClient

from tests.promises.bodies import bodies
from tests.promises.everything import fresh_key, make_everything
from tests.promises.tables_of_the_trade import TABLE_READS, TABLE_WRITES, WORKED_OUT
from tests.world import client_for

pytestmark = pytest.mark.django_db
METHODS = ("get", "post", "patch", "delete")

OWNERS = {"data-owner", "chief"}
EVERYONE = {
    "fitter", "supervisor", "stores", "planner", "integrator", "reader", "admin", "data-owner", "procedure-author",
    "chief",
}  # fmt: skip
PLANNERS, FITTERS = {"planner", "supervisor", "admin", "chief"}, {"fitter", "supervisor"}
KEEPERS, BUYERS = {"stores", "integrator", "admin", "chief"}, {"stores", "admin", "chief"}
COUNTERS = {"fitter", "supervisor", "stores", "integrator", "admin", "chief"}
TOOLS = {"supervisor", "planner", "integrator", "admin", "chief"}

# Who may write; everybody else of the same site is refused, and for a stranger the thing is not there.
WRITES: dict[str, set[str]] = {
    **dict.fromkeys(TABLE_WRITES, OWNERS),
    "POST sites": {"chief"},
    "PATCH sites/<uuid:site>": {"integrator", "admin", "chief"},
    "POST bins": {"stores", "integrator", "admin", "chief"},
    "PATCH bins/<uuid:bin>": {"stores", "integrator", "admin", "chief"},
    "POST grants": {"admin", "chief"},
    "DELETE grants/<uuid:grant>": {"admin", "chief"},
    "POST principals": {"chief"},
    "PATCH principals/<uuid:principal>": {"chief"},
    "POST principals/<uuid:principal>/access-tokens": {"chief"},
    "DELETE principals/<uuid:principal>/access-tokens/<uuid:token>": {"chief"},
    "POST makers": OWNERS,
    "PATCH makers/<uuid:maker>": OWNERS,
    "POST fluids": OWNERS,
    "PATCH fluids/<uuid:fluid>": OWNERS,
    "POST pump-models": OWNERS,
    "PATCH pump-models/<uuid:model>": OWNERS,
    "POST pump-models/<uuid:model>/wear-positions": OWNERS,
    "PATCH wear-positions/<uuid:position>": OWNERS,
    "POST pumps": TOOLS,
    "PATCH pumps/<uuid:pump>": TOOLS,
    "POST pumps/<uuid:pump>/running-hours": {"fitter", *TOOLS},
    "POST parts": OWNERS,
    "PATCH parts/<uuid:part>": OWNERS,
    "POST supersessions": OWNERS,
    "PATCH supersessions/<uuid:supersession>": OWNERS,
    "POST supersessions/<uuid:supersession>/withdraw": OWNERS,
    "POST suppliers": OWNERS,
    "PATCH suppliers/<uuid:supplier>": OWNERS,
    "POST supplier-terms": OWNERS,
    "PATCH supplier-terms/<uuid:terms>": OWNERS,
    "POST kits": OWNERS,
    "PATCH kits/<uuid:kit>": OWNERS,
    "POST kits/<uuid:kit>/lines": OWNERS,
    "POST kits/<uuid:kit>/release": OWNERS,
    "POST kits/<uuid:kit>/withdraw": OWNERS,
    "POST coverage": OWNERS,
    "PATCH coverage/<uuid:coverage>": OWNERS,
    "POST stock-movements": KEEPERS,
    "POST stock-movements/<uuid:movement>/reverse": KEEPERS,
    "PATCH sites/<uuid:site>/count-settings": {"supervisor", "admin", "chief"},
    "POST stock-discrepancies": COUNTERS,
    "POST counts": BUYERS,
    "POST counts/<uuid:count>/entries": COUNTERS,
    "POST counts/<uuid:count>/submit": COUNTERS,
    "POST counts/<uuid:count>/send-back": BUYERS,
    "POST counts/<uuid:count>/post": BUYERS,
    "POST counts/<uuid:count>/cancel": BUYERS,
    "POST kit-builds": KEEPERS,
    "POST kit-breaks": KEEPERS,
    "POST lots/<uuid:lot>/extend": {"stores"},
    "POST orders": BUYERS,
    "POST orders/<uuid:order>/send": KEEPERS,
    "POST orders/<uuid:order>/receive": KEEPERS,
    "POST orders/<uuid:order>/chases": KEEPERS,
    "POST orders/<uuid:order>/close-short": BUYERS,
    "POST orders/<uuid:order>/cancel": BUYERS,
    "POST reservation-reviews": {"planner", *KEEPERS},
    "POST reservations/<uuid:reservation>/take-over": {"supervisor", "planner", *BUYERS},
    "POST approval-limits": {"chief"},
    "PATCH approval-limits/<uuid:approval_limit>": {"chief"},
    "DELETE approval-limits/<uuid:approval_limit>": {"chief"},
    "POST transit-times": OWNERS,
    "PATCH transit-times/<uuid:transit_time>": OWNERS,
    "DELETE transit-times/<uuid:transit_time>": OWNERS,
    # From the mill to north: agreed on by who has the role at both, sent by who has it at the mill.
    "POST transfers": {"chief"},
    "POST transfers/<uuid:transfer>/send": {"chief"},
    "POST transfers/<uuid:transfer>/receive": KEEPERS,
    "POST transfers/<uuid:transfer>/close-short": BUYERS,
    "POST transfers/<uuid:transfer>/cancel": {"planner", *BUYERS},
    "POST replenishment-proposals/<uuid:proposal>/approve": BUYERS,
    "PATCH replenishment-proposals/<uuid:proposal>": BUYERS,
    "POST replenishment-proposals/<uuid:proposal>/reject": BUYERS,
    "POST replenishment-proposals/<uuid:proposal>/snooze": BUYERS,
    "POST replenishment-runs": {"planner", *KEEPERS},
    "POST sites/<uuid:site>/overhaul-forecasts": {"planner", *KEEPERS},
    "POST procedure-revisions": {"procedure-author"},
    "PATCH procedure-revisions/<uuid:revision>": {"procedure-author"},
    "POST procedure-revisions/<uuid:revision>/copy": {"procedure-author"},
    "POST procedure-revisions/<uuid:revision>/submit": {"procedure-author"},
    "POST procedure-revisions/<uuid:revision>/review": {"procedure-author"},
    "POST procedure-revisions/<uuid:revision>/send-back": {"procedure-author"},
    "POST procedure-revisions/<uuid:revision>/publish": {"procedure-author"},
    "POST procedure-revisions/<uuid:revision>/withdraw": {"procedure-author"},
    "POST instruments": TOOLS,
    "PATCH instruments/<uuid:instrument>": TOOLS,
    "POST jobs": PLANNERS,
    "PATCH jobs/<uuid:job>": PLANNERS,
    "POST jobs/<uuid:job>/reserve-kit": {"stores", *PLANNERS},
    "POST jobs/<uuid:job>/start": FITTERS,
    "POST jobs/<uuid:job>/hold": PLANNERS | FITTERS,
    "POST jobs/<uuid:job>/resume": PLANNERS | FITTERS,
    "POST jobs/<uuid:job>/cancel": PLANNERS,
    "POST jobs/<uuid:job>/take-kit": {"stores", *FITTERS},
    "POST jobs/<uuid:job>/finish": FITTERS,
    "POST jobs/<uuid:job>/sign-off": {"supervisor"},
    "POST jobs/<uuid:job>/steps/<int:number>/confirm": FITTERS,
    "POST jobs/<uuid:job>/steps/<int:number>/release": {"supervisor"},
    "POST jobs/<uuid:job>/measurements": FITTERS,
    "POST jobs/<uuid:job>/reschedule": PLANNERS,
    "POST jobs/<uuid:job>/hand-over": PLANNERS | FITTERS,
    "POST jobs/<uuid:job>/split": PLANNERS,
    "POST jobs/<uuid:job>/extra-parts": {"stores", *PLANNERS, *FITTERS},
    "POST extra-parts/<uuid:extra_part>/reserve": {"stores", *PLANNERS, *FITTERS},
    "POST extra-parts/<uuid:extra_part>/take": {"stores", *FITTERS},
    "POST extra-parts/<uuid:extra_part>/withdraw": {"stores", *PLANNERS, *FITTERS},
    "POST jobs/<uuid:job>/returns": {"stores", *FITTERS},
    "POST jobs/<uuid:job>/work": FITTERS,
    "POST jobs/<uuid:job>/findings": FITTERS,
    "POST jobs/<uuid:job>/attachments": FITTERS,
    "POST labels": {"stores", *TOOLS},
    "POST labels/<uuid:label>/replace": {"stores", *TOOLS},
    "POST labels/<uuid:label>/void": {"stores", *TOOLS},
    "POST label-sheets": {"stores", *TOOLS},
    "POST offline-records/<uuid:record>/settle": {"supervisor"},
    "POST nonconformities": FITTERS,
    "POST column-mappings": OWNERS,
    "PATCH column-mappings/<uuid:mapping>": OWNERS,
    "DELETE column-mappings/<uuid:mapping>": OWNERS,
    "POST nonconformities/<uuid:nonconformity>/decide": {"supervisor"},
}
# One's own: nobody else's are there.
OWN = {
    "GET access-tokens", "POST access-tokens", "DELETE access-tokens/<uuid:token>", "GET background-runs",
    "GET background-runs/<uuid:run>", "POST background-runs/<uuid:run>/cancel", "GET bulk-loads", "POST bulk-loads",
    "GET bulk-loads/<uuid:load>", "GET bulk-loads/<uuid:load>/rows", "GET me", "GET changes",
    "POST column-mappings/propose", "GET work-bundle", "POST offline-records",
}  # fmt: skip
# Readable by every signed-in principal.
CATALOGUE = {
    *TABLE_READS,
    "GET bulk-load-kinds", "GET calculations", "GET calculations/<str:calculation>",
    "GET makers", "GET makers/<uuid:maker>", "GET fluids",
    "GET fluids/<uuid:fluid>", "GET part-categories", "GET pump-models",
    "GET pump-models/<uuid:model>", "GET pump-models/<uuid:model>/wear-positions",
    "GET wear-positions/<uuid:position>", "GET parts",
    "GET parts/<uuid:part>", "GET parts/<uuid:part>/supersessions", "GET supersessions",
    "GET supersessions/<uuid:supersession>", "GET suppliers",
    "GET suppliers/<uuid:supplier>", "GET suppliers/<uuid:supplier>/lead-times", "GET approval-limits",
    "GET approval-limits/<uuid:approval_limit>", "GET supplier-terms", "GET supplier-terms/<uuid:terms>", "GET kits",
    "GET kits/<uuid:kit>", "GET coverage", "GET coverage/<uuid:coverage>", "GET procedures", "GET procedure-revisions",
    "GET procedure-revisions/<uuid:revision>", "GET procedure-revisions/<uuid:revision>/acts",
    "GET procedure-revisions/<uuid:revision>/document", "GET procedure-revisions/<uuid:revision>/findings",
    "GET procedure-revisions/<uuid:revision>/comparison", "GET procedure-schema", "GET procedure-variables",
    "GET column-mappings", "GET column-mappings/<uuid:mapping>",
    "GET failure-codes",
}  # fmt: skip
# Facts of the catalogue with what they mean for the pumps at one's own sites.
MEANT = {
    "GET kits/<uuid:kit>/coverage-findings", "GET pump-models/<uuid:model>/coverage-findings",
    "GET parts/<uuid:part>/where-used", "GET parts/<uuid:part>/asked-by",
    "GET pump-models/<uuid:model>/trends/<str:characteristic>", "GET pump-models/<uuid:model>/lives",
    "GET stranded-parts", "GET stranded-kits", "GET unserved-pumps", "GET contradicted-coverage",
}  # fmt: skip
# Asked by POST since there is much to ask, but nothing is written: readable by every signed-in principal too.
ASKED = {
    "POST nameplates/match", "POST specifications/read", "POST described-pump-fits", "POST described-kit-fits",
    "POST supersessions/resolve", "POST scanned-labels", "POST calculations/<str:calculation>", "POST judgements",
    "POST procedure-checks",
}  # fmt: skip
# The same, of stock: for who plans at all of the sites named.
PLANNED = {name: {"planner", *BUYERS} for name in ("POST network-targets", "POST transfer-plans")}
# Only for administrators: of some site, or of the whole operator.
PEOPLE = {
    "GET principals": {"admin", "chief"},
    "GET principals/<uuid:principal>": {"admin", "chief"},
    "GET principals/<uuid:principal>/access-tokens": {"chief"},
}
# Lists and things of a site: a stranger's list is empty, a stranger's thing is not there.
SITE = {
    "GET sites", "GET sites/<uuid:site>", "GET bins", "GET bins/<uuid:bin>", "GET grants", "GET pumps",
    "GET pumps/<uuid:pump>", "GET pumps/<uuid:pump>/running-hours", "GET pumps/<uuid:pump>/fits", "GET stock-balances",
    "GET kits/<uuid:kit>/pumps", "GET sites/<uuid:site>/items/<uuid:item>/projection",
    "GET sites/<uuid:site>/items/<uuid:item>/promise",
    "GET stock-movements", "GET stock-movements/<uuid:movement>", "GET reservations",
    "GET reservations/<uuid:reservation>", "GET sites/<uuid:site>/waiting-jobs",
    "GET sites/<uuid:site>/items/<uuid:item>/allocation", "GET lots", "GET lots/<uuid:lot>",
    "GET transit-times", "GET transit-times/<uuid:transit_time>", "GET transfers", "GET transfers/<uuid:transfer>",
    "GET sites/<uuid:site>/count-plan", "GET sites/<uuid:site>/count-settings", "GET counts", "GET counts/<uuid:count>",
    "GET stock-discrepancies", "GET sites/<uuid:site>/stock-surplus",
    "GET orders", "GET orders/<uuid:order>", "GET orders/<uuid:order>/chases", "GET late-orders",
    "GET replenishment-proposals", "GET replenishment-levels",
    "GET replenishment-proposals/<uuid:proposal>", "GET instruments", "GET instruments/<uuid:instrument>", "GET jobs",
    "GET jobs/<uuid:job>", "GET jobs/<uuid:job>/steps", "GET jobs/<uuid:job>/steps/<int:number>",
    "GET jobs/<uuid:job>/readiness", "GET jobs/<uuid:job>/history", "GET jobs/<uuid:job>/extra-parts",
    "GET extra-parts/<uuid:extra_part>", "GET jobs/<uuid:job>/returns", "GET jobs/<uuid:job>/work",
    "GET jobs/<uuid:job>/work-totals", "GET jobs/<uuid:job>/findings", "GET findings",
    "GET jobs/<uuid:job>/attachments", "GET attachments/<uuid:attachment>",
    "GET jobs/<uuid:job>/measurements", "GET jobs/<uuid:job>/sign-offs", "GET jobs/<uuid:job>/record",
    "GET record-verifications/<str:digest>", "GET jobs/<uuid:job>/job-sheet", "GET jobs/<uuid:job>/overhaul-record",
    "GET nonconformities",
    "GET nonconformities/<uuid:nonconformity>", "GET pumps/<uuid:pump>/fitted-parts", "GET labels",
    "GET offline-records", "GET offline-records/<uuid:record>",
    "GET labels/<uuid:label>", "GET scanned-labels/<str:code>",
    "GET sites/<uuid:site>/overhaul-forecast", "GET pumps/<uuid:pump>/overhaul-forecast",
    "GET pumps/<uuid:pump>/trends", "GET pumps/<uuid:pump>/trends/<str:characteristic>",
    "GET pumps/<uuid:pump>/next-overhaul", "GET sites/<uuid:site>/next-overhauls",
}  # fmt: skip
# Not JSON: who may have the content is tried below, what it looks like with attachments.
CONTENT = {"GET attachments/<uuid:attachment>/content"}
# By item, not by site: what may be shown of ungranted sites is tested with reservations. By a code in the query: tested
# with labels.
BY_ITEM = {
    "GET stock-availability", "GET kits/<uuid:kit>/dependence", "GET kits/<uuid:kit>/buildable", "GET scanned-labels",
    "GET items/<uuid:item>/allocation",
}  # fmt: skip


def routes() -> list[str]:
    """Every method and route under /api/v1/, from the resolver."""

    def walk(patterns, before=""):
        for one in patterns:
            route = before + str(one.pattern)
            if hasattr(one, "url_patterns"):
                yield from walk(one.url_patterns, route)
            elif route.startswith("api/v1/"):
                for method in METHODS:
                    if hasattr(one.callback.view_class, method):
                        yield f"{method.upper()} {route.removeprefix('api/v1/')}"

    return sorted(walk(get_resolver().url_patterns))


def test_every_route_is_named_here_once():
    named = [*WRITES, *OWN, *CATALOGUE, *MEANT, *ASKED, *PLANNED, *PEOPLE, *SITE, *CONTENT, *BY_ITEM, *WORKED_OUT]
    assert sorted(named) == sorted(set(named))
    assert sorted(named) == routes()


@pytest.fixture
def world():
    return make_everything()


def call(client, world, name, sent=None):
    """The answer to a request that is undone at once."""
    method, route = name.split(" ", 1)
    headers = {"Idempotency-Key": fresh_key(), "If-Match": '"1"'}
    path = world.path(f"api/v1/{route}")
    before = transaction.savepoint()
    if method == "GET":
        answer = client.get(path)
    else:
        answer = getattr(client, method.lower())(path, sent if sent is not None else {}, format="json", headers=headers)
    transaction.savepoint_rollback(before)
    return answer


def test_without_a_token_nothing_is_answered(world):
    for name in routes():
        answer = call(APIClient(), world, name)
        assert answer.status_code == 401, name
        assert answer.json()["code"] == "not-signed-in", name


def test_a_token_to_read_never_writes(world):
    client = client_for(world.cast.people["chief"], ("read",))
    for name in routes():
        if name in ASKED or name in PLANNED:
            assert call(client, world, name, bodies(world)[name]).status_code == 200, name
        elif not name.startswith("GET"):
            answer = call(client, world, name, bodies(world).get(name))
            assert (answer.status_code, answer.json()["code"]) == (403, "insufficient-scope"), name


@pytest.mark.parametrize("role", sorted(EVERYONE))
def test_a_role_writes_what_it_may_and_nothing_else(world, role):
    client, sent = world.cast.client(role), bodies(world)
    for name, allowed in WRITES.items():
        answer = call(client, world, name, sent.get(name))
        refused = answer.status_code == 403 and answer.json()["code"] == "not-allowed"
        assert refused == (role not in allowed), (name, role, answer.status_code, answer.content[:300])


@pytest.mark.parametrize("role", ["stranger", "nobody"])
def test_whoever_has_no_role_there_neither_reads_nor_writes(world, role):
    client, sent = world.cast.client(role), bodies(world)
    for name in WRITES:
        answer = call(client, world, name, sent.get(name))
        assert answer.status_code in {403, 404, 422}, (name, answer.status_code, answer.content[:200])
        assert answer.status_code != 422 or "no such" in answer.content.decode().lower(), (name, answer.content[:300])
    for name in PLANNED:
        assert call(client, world, name, sent[name]).status_code == 404, name
    for name in sorted(SITE):
        answer = call(client, world, name)
        if answer.status_code == 200:
            text = answer.content.decode()
            assert str(world.ids["site"]) not in text, name
            assert answer.json()["results"] == [] or role == "stranger", name
            assert "P-117" not in text, name
        else:
            assert answer.status_code == 404, (name, answer.status_code)


@pytest.mark.parametrize("role", sorted(EVERYONE))
def test_every_role_reads_its_site_and_the_catalogue(world, role):
    client = world.cast.client(role)
    for name in sorted(SITE | CATALOGUE | MEANT):
        answer = call(client, world, name)
        assert answer.status_code == 200, (name, role, answer.content[:200])
    for name in sorted(ASKED):
        assert call(client, world, name, bodies(world)[name]).status_code == 200, (name, role)
    for name, allowed in PLANNED.items():
        status = 200 if role in allowed else 403
        assert call(client, world, name, bodies(world)[name]).status_code == status, (name, role)
    for name, query in WORKED_OUT.items():
        assert client.get(f"/api/v1/{name.removeprefix('GET ')}?{query}").status_code == 200, (name, role)
    for name, allowed in PEOPLE.items():
        assert (call(client, world, name).status_code == 200) == (role in allowed), (name, role)


@pytest.mark.parametrize("role", sorted({*EVERYONE, "stranger", "nobody"}))
def test_content_is_for_whoever_reads_the_site(world, role):
    client = world.cast.client(role)
    for name in CONTENT:
        assert call(client, world, name).status_code == (200 if role in EVERYONE else 404), (name, role)


def test_what_is_ones_own_is_nobody_elses(world):
    other = world.cast.client("admin")
    for name in ("GET background-runs/<uuid:run>", "GET bulk-loads/<uuid:load>", "GET bulk-loads/<uuid:load>/rows"):
        assert call(other, world, name).status_code == 404, name
    for name in ("DELETE access-tokens/<uuid:token>", "POST background-runs/<uuid:run>/cancel"):
        assert call(other, world, name).status_code == 404, name
    for name in ("GET background-runs", "GET bulk-loads"):
        assert call(other, world, name).json()["results"] == [], name
