"""Signing in by login and password."""

from typing import Any

from django.http import HttpRequest

from services.identity.models import Principal


class PasswordBackend:
    """The same work and the same answer whether the login exists or not."""

    def authenticate(
        self, request: HttpRequest | None, username: str | None = None, password: str | None = None, **_: Any
    ) -> Principal | None:
        principal = Principal.objects.filter(login__iexact=username or "").first()
        if principal is None:
            Principal().set_password(password)
            return None
        if not principal.check_password(password or "") or not principal.is_active:
            return None
        return principal

    def get_user(self, user_id: Any) -> Principal | None:
        return Principal.objects.filter(pk=user_id, is_active=True).first()
