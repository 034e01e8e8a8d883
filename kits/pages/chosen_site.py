"""Pages that show one granted site, with a choice of the others."""

from collections.abc import Callable, Sequence
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from assets.queries.sites import granted_sites
from services.api.refusals import NotThere
from services.identity.callers import Caller, caller_of

Site = dict[str, Any]


def page_of_site(
    request: HttpRequest,
    template: str,
    shown: Callable[[Caller, Site], dict[str, Any]],
    *,
    add_waiting: Callable[[Caller, Sequence[Site]], None] | None = None,
) -> HttpResponse:
    """A page of the site that ``?site=code`` names. ``shown`` says what it holds of that site; ``add_waiting`` adds to
    each site how much waits for a decision there. Raises `NotThere`."""
    by = caller_of(request)
    sites = granted_sites(by)
    if not sites:
        return render(request, "kits/no_sites.html")
    if add_waiting is not None:
        add_waiting(by, sites)
    site = site_among(sites, request.GET.get("site"))
    return render(request, template, {"here": request.path, "sites": sites, "site": site, **shown(by, site)})


def site_among(sites: Sequence[Site], code: str | None) -> Site:
    """The site of a code; without one, the first where something waits for a decision, else the first. Raises
    `NotThere`."""
    if code is None:
        return next((one for one in sites if one.get("waiting")), sites[0])
    for one in sites:
        if one["code"] == code:
            return one
    raise NotThere(f"No site {code} is granted to you.", remedy="Choose one of your sites.")
