"""Where a coach is signed in, as the coach's own page shows it."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from django.contrib.auth import HASH_SESSION_KEY
from django.contrib.sessions.models import Session as BrowserSession
from django.utils.crypto import constant_time_compare

from classroom.models import SignIn, User
from classroom.people.rules import browser_said, place_words


@dataclass(frozen=True)
class OpenSignIn:
    """One browser that an account is signed in with. ``browser`` is empty for one from before sign-ins were listed."""

    pk: int
    browser: str
    place: str
    at: dt.datetime
    last_seen_at: dt.datetime
    this_one: bool


def sign_ins_of(user: User, here: str, *, now: dt.datetime) -> list[OpenSignIn]:
    """Those whose session still opens something: not run out, not signed out, of today's password. This one first.

    Parameters
    ----------
    here
        The key of the session that asks.
    """
    rows = list(SignIn.objects.filter(user=user))
    keys = [row.session_key for row in rows]
    today = user.get_session_auth_hash()
    alive = {
        session.session_key
        for session in BrowserSession.objects.filter(session_key__in=keys, expire_date__gt=now)
        if constant_time_compare(session.get_decoded().get(HASH_SESSION_KEY, ""), today)
    }
    found = [
        OpenSignIn(
            row.pk,
            browser_said(row.browser),
            place_words(row.source),
            row.at,
            row.last_seen_at,
            this_one=row.session_key == here,
        )
        for row in rows
        if row.session_key in alive
    ]
    return sorted(found, key=lambda row: not row.this_one)
