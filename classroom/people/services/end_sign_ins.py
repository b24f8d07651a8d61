"""Sign-ins of a coach: noted when they begin, seen while they last, ended by the coach from any other browser."""

from __future__ import annotations

import datetime as dt
import logging

from django.contrib.sessions.models import Session as BrowserSession
from django.core.cache import caches
from django.db import transaction
from django.http import HttpRequest
from django.utils.translation import gettext as _

from classroom.club.services.audit import note_in_audit
from classroom.errors import ClassroomCode, ConflictError
from classroom.models import Coach, SignIn, User
from classroom.people.queries import sign_ins_of
from classroom.people.rules import browser_words
from classroom.site.request_source import source_of
from classroom.site.tokens import digest_of

log = logging.getLogger("helmroom.door")
SIGN_IN_KEY = "sign_in"
#: So often "last seen" is written down.
SEEN_EVERY_S = 15 * 60


@transaction.atomic
def note_sign_in(request: HttpRequest, user_id: int, *, now: dt.datetime) -> None:
    """Call it once the session is the user's own. Who signs in twice in one browser is signed in there once."""
    before: int = request.session.get(SIGN_IN_KEY) or 0
    SignIn.objects.filter(pk=before, user_id=user_id).delete()
    made = SignIn.objects.create(
        user_id=user_id,
        session_key=request.session.session_key or "",
        browser=browser_words(request.headers.get("User-Agent", "")),
        source=source_of(request)[:64],
        at=now,
        last_seen_at=now,
    )
    request.session[SIGN_IN_KEY] = made.pk


def see_sign_in(request: HttpRequest, *, now: dt.datetime) -> None:
    """Write down that the browser is still in use: at most once in a while in each process, but at once when its session has a new key."""
    kept = request.session.get(SIGN_IN_KEY)
    key = request.session.session_key
    if kept and key and caches["here"].add(f"sign_in_seen:{digest_of(key)}", 1, SEEN_EVERY_S):
        SignIn.objects.filter(pk=kept).update(last_seen_at=now, session_key=key)


@transaction.atomic
def end_sign_in(user: User, row: SignIn, coach: Coach | None, *, here: str, now: dt.datetime) -> None:
    """The browser is signed out from its next request on. A club's log has it only if the user is a ``coach`` there.

    Raises
    ------
    ConflictError
        ``this_browser``: one leaves this one by signing out.
    """
    if row.session_key == here:
        raise ConflictError(
            ClassroomCode.THIS_BROWSER, _("This is the browser that you are in. Press “Sign out” to leave it.")
        )
    _end([row.pk], [row.session_key])
    if coach:
        note_in_audit(coach.club, coach, "ended one of their sign-ins", now=now)
    log.info("a sign-in of user:%s was ended by themselves", user.pk)


@transaction.atomic
def end_other_sign_ins(user: User, coach: Coach | None, *, here: str, now: dt.datetime) -> int:
    """All but this one; how many still opened something."""
    ended = sum(not row.this_one for row in sign_ins_of(user, here, now=now))
    others = SignIn.objects.filter(user=user).exclude(session_key=here)
    keys = dict(others.values_list("pk", "session_key"))
    _end(list(keys), list(keys.values()))
    if ended and coach:
        note_in_audit(coach.club, coach, "ended their other sign-ins", now=now)
    if ended:
        log.info("%d sign-ins of user:%s were ended by themselves", ended, user.pk)
    return ended


def _end(rows: list[int], keys: list[str]) -> None:
    BrowserSession.objects.filter(session_key__in=keys).delete()
    SignIn.objects.filter(pk__in=rows).delete()
