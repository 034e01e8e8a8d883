"""Addresses that belong to no app: signing in and out."""

from django.urls import URLPattern, URLResolver, path

from services.web.problem_pages import problem_page
from services.web.sign_in import sign_in, sign_out

urlpatterns: list[URLPattern | URLResolver] = [
    path("problems/<slug:code>", problem_page, name="problem"),
    path("sign-in", sign_in, name="sign-in"),
    path("sign-out", sign_out, name="sign-out"),
]
