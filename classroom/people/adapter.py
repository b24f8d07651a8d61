"""How coaches come in: by invitation only, never by signing themselves up; each way in and each refusal is logged."""

from __future__ import annotations

import logging
from typing import Any
from urllib.parse import urlsplit

from allauth.account.adapter import DefaultAccountAdapter
from django.conf import settings
from django.contrib.auth.models import AbstractBaseUser
from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from classroom.access import end_other_visits
from classroom.people.known_browser import known_browser, remember_browser
from classroom.people.services.end_sign_ins import note_sign_in
from classroom.site.request_source import source_of

log = logging.getLogger("helmroom.door")


class ClosedSignUpAdapter(DefaultAccountAdapter):
    error_messages = DefaultAccountAdapter.error_messages | {
        "email_password_mismatch": _(
            "This address and this password do not open the door. Check both, or set a new password."
        ),
        "too_many_login_attempts": _(
            "Too many tries from here, or at this account. Wait five minutes, use a browser "
            "that you have signed in with before, or set a new password."
        ),
    }

    def is_open_for_signup(self, request: HttpRequest) -> bool:
        return False

    def get_client_ip(self, request: HttpRequest) -> str:
        """As at the tablets' door: behind a proxy, guessers in one place do not shut out coaches in all others."""
        return source_of(request)

    def login(self, request: HttpRequest, user: AbstractBaseUser) -> None:
        super().login(request, user)
        end_other_visits(request)
        note_sign_in(request, getattr(user, "pk", 0), now=timezone.now())
        log.info("sign-in of user:%s from %s", user.pk, source_of(request))

    def get_reset_password_from_key_url(self, key: str) -> str:
        """To the configured address, whatever name the one who asked gave the site."""
        path = urlsplit(super().get_reset_password_from_key_url(key)).path
        return f"{settings.HELMROOM_ADDRESS.rstrip('/')}{path}"

    def post_login(self, request: HttpRequest, user: AbstractBaseUser, **more: Any) -> HttpResponse:
        response = super().post_login(request, user, **more)
        remember_browser(response, getattr(user, "email", ""))
        return response

    def _get_login_attempts_cache_key(self, request: HttpRequest, **credentials: Any) -> str:
        """Others' guesses do not count for a browser that this account came in with before; its own do."""
        login = credentials.get("email") or credentials.get("username") or ""
        return f"{super()._get_login_attempts_cache_key(request, **credentials)}{known_browser(request, login)}"

    def authentication_failed(self, request: HttpRequest, **credentials: Any) -> None:
        """Where it came from, never what was typed."""
        super().authentication_failed(request, **credentials)
        log.warning("sign-in refused from %s", self.get_client_ip(request))
