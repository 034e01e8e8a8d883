"""How a request of the API says who it comes from: a bearer token, or the session of the pages."""

from typing import Any

from drf_spectacular.extensions import OpenApiAuthenticationExtension
from rest_framework import authentication, exceptions
from rest_framework.request import Request

from services.identity.models import AccessToken, Principal
from services.identity.tokens import check_token


class TokenAuthentication(authentication.BaseAuthentication):
    """``Authorization: Bearer bp_…``."""

    def authenticate(self, request: Request) -> tuple[Principal, AccessToken] | None:
        header = authentication.get_authorization_header(request).split()
        if not header or header[0].lower() != b"bearer":
            return None
        token = check_token(header[1].decode("latin-1")) if len(header) == 2 else None
        if token is None:
            raise exceptions.AuthenticationFailed("The token is unknown, expired or revoked.")
        return token.principal, token

    def authenticate_header(self, request: Request) -> str:
        return 'Bearer realm="backpull"'


class SessionAuthentication(authentication.SessionAuthentication):
    """The signed-in session of the pages, with its cross-site check."""

    def authenticate(self, request: Request) -> tuple[Principal, None] | None:
        user: Any = getattr(request._request, "user", None)
        if not isinstance(user, Principal) or not user.is_active:
            return None
        self.enforce_csrf(request)
        return user, None


class TokenScheme(OpenApiAuthenticationExtension):
    target_class = "services.identity.authentication.TokenAuthentication"
    name = "token"

    def get_security_definition(self, auto_schema: Any) -> dict[str, Any]:
        return {"type": "http", "scheme": "bearer", "description": "An access token: bp_<key id>_<secret>."}


class SessionScheme(OpenApiAuthenticationExtension):
    target_class = "services.identity.authentication.SessionAuthentication"
    name = "session"

    def get_security_definition(self, auto_schema: Any) -> dict[str, Any]:
        return {"type": "apiKey", "in": "cookie", "name": "sessionid", "description": "The session of the pages."}
