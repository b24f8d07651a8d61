"""A way in for a coach whose account was made by somebody else: a link that sets its password, once."""

from __future__ import annotations

from allauth.account import app_settings
from allauth.account.utils import user_pk_to_url_str
from django.urls import reverse

from classroom.models import User


def first_password_path(user: User) -> str:
    """The same link as of a forgotten password: it ends with its first use, or by itself (``PASSWORD_RESET_TIMEOUT``)."""
    token = app_settings.PASSWORD_RESET_TOKEN_GENERATOR().make_token(user)
    return reverse("account_reset_password_from_key", kwargs={"uidb36": user_pk_to_url_str(user), "key": token})
