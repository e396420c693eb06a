"""Who asks: a token, or a browser's session with its CSRF token."""

from typing import Any

from django.utils import timezone
from rest_framework.authentication import BaseAuthentication, SessionAuthentication
from rest_framework.exceptions import AuthenticationFailed
from rest_framework.request import Request
from rest_framework.throttling import SimpleRateThrottle

from inventory.actions.people.tokens import note_use, secret_hash
from inventory.compute.tokens import TOKEN_SIGN
from inventory.models import ApiToken, Person

CHALLENGE = 'Bearer realm="api"'


def bearer(request: Request) -> str:
    """Give the text of a token that came in the header, if one did."""
    scheme, _, text = request.headers.get("Authorization", "").partition(" ")
    return text.strip() if scheme.lower() == "bearer" else ""


class TokenAuthentication(BaseAuthentication):
    """``Authorization: Bearer fbk_…``; the owner must still be of the club."""

    def authenticate(self, request: Request) -> tuple[Person, ApiToken] | None:
        text = bearer(request)
        if not text:
            return None
        now = timezone.now()
        token = (
            ApiToken.objects.in_use(now)
            .select_related("person")
            .filter(code_sha256=secret_hash(text), person__is_active=True)
            .first()
            if text.startswith(TOKEN_SIGN)
            else None
        )
        if token is None:
            raise AuthenticationFailed(
                detail="This token is not known, or has ended.", code="token_unknown"
            )
        note_use(token, at=now)
        return token.person, token

    def authenticate_header(self, request: Request) -> str:
        return CHALLENGE


class BrowserAuthentication(SessionAuthentication):
    """The session of a browser; a write wants the CSRF token as well."""

    def authenticate_header(self, request: Request) -> str:
        return CHALLENGE


class TokenThrottle(SimpleRateThrottle):
    """So many requests a minute, each token for itself; a session as its person."""

    scope = "token"

    def get_cache_key(self, request: Request, view: Any) -> str | None:
        who = request.auth or request.user
        if not getattr(who, "pk", None):
            return None
        return f"api-throttle-{type(who).__name__}-{who.pk}"
