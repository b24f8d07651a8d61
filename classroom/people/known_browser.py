"""A browser that an account has signed in with before: others' guesses do not keep it out.

The cookie says only that; it opens nothing. (As OWASP's "Device cookies" has it, from memory.)
"""

from __future__ import annotations

import secrets

from django.conf import settings
from django.http import HttpRequest
from django.http.response import HttpResponseBase
from django.utils.crypto import salted_hmac

SALT = "helmroom.known_browser"
GOOD_FOR_S = 180 * 24 * 3600


def remember_browser(response: HttpResponseBase, login: str) -> None:
    response.set_signed_cookie(
        _name(login),
        secrets.token_urlsafe(16),
        salt=_name(login),
        max_age=GOOD_FOR_S,
        secure=settings.SESSION_COOKIE_SECURE,
        httponly=True,
        samesite="Lax",
    )


def known_browser(request: HttpRequest, login: str) -> str:
    """What tells this browser from others that know the account; empty when it does not."""
    return request.get_signed_cookie(_name(login), "", salt=_name(login), max_age=GOOD_FOR_S) or ""


def _name(login: str) -> str:
    """Without the address in it."""
    return f"known_{salted_hmac(SALT, login.strip().lower()).hexdigest()[:16]}"
