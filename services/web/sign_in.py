"""Signing in and out of the pages."""

from django import forms
from django.contrib.auth import authenticate, login, logout
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST

from services.identity.rate_limits import sign_in_allowed
from services.web.pages import safe_next


class SignInForm(forms.Form):
    login = forms.CharField(label="Login", max_length=80)
    password = forms.CharField(label="Password", max_length=200, widget=forms.PasswordInput, strip=False)


@never_cache
@require_http_methods(["GET", "POST"])
def sign_in(request: HttpRequest) -> HttpResponse:
    """The form, and what comes from it. One sentence for every way of failing: it tells nothing about logins."""
    target = safe_next(request, request.POST.get("next") or request.GET.get("next") or "/")
    form = SignInForm(request.POST or None)
    failed, status = "", 200
    if request.method == "POST" and form.is_valid():
        name = form.cleaned_data["login"]
        if not sign_in_allowed(request, name):
            failed, status = "Too many attempts. Wait a minute, then try again.", 429
        else:
            person = authenticate(request, username=name, password=form.cleaned_data["password"])
            if person is not None:
                login(request, person)
                return HttpResponseRedirect(target)
            failed, status = "Login and password do not belong together.", 403
    return render(request, "web/sign_in.html", {"form": form, "next": target, "failed": failed}, status=status)


@require_POST
def sign_out(request: HttpRequest) -> HttpResponse:
    """End the session."""
    logout(request)
    return HttpResponseRedirect("/sign-in")
