"""A team comes in on its tablet: by code and PIN, or opened for it by a coach. Guessing is slowed by its source."""

from __future__ import annotations

import datetime as dt
import functools
import logging

from django.conf import settings
from django.contrib.auth.hashers import check_password, make_password
from django.db import transaction
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from classroom.club.services.audit import note_in_audit
from classroom.errors import ClassroomCode, InputError
from classroom.models import Coach, TabletSession, Team
from classroom.site.languages import known_language
from classroom.site.slow_guessing import count_try, network_of
from classroom.teams.guessed_codes import note_guess
from classroom.teams.services.join_codes import code_is_open, tidy_join_code

KIND = "team"
#: One answer for an unknown code, an expired one and a wrong PIN, so that none of them can be told apart.
NOT_LET_IN = gettext_noop(
    "That code and PIN do not open a team. Check both on your card and type them again, "
    "or ask your coach to open this tablet for you."
)
TOO_MANY = gettext_noop("Too many tries from here. Wait ten minutes, or ask your coach to open this tablet for you.")

log = logging.getLogger("helmroom.sign_in")


def sign_in_tablet(code: str, pin: str, *, source: str, now: dt.datetime, language: str = "") -> TabletSession:
    """Open a tablet for the team whose code and PIN these are, in the language chosen there; empty: the club's.

    Raises
    ------
    InputError
        ``not_let_in`` whatever was wrong, ``too_many_tries`` after ``TRIES`` refusals of this source within ``WINDOW``.
    """
    kept = network_of(source)
    counted = count_try(source, KIND, now=now)
    if counted is None:
        log.warning("team sign-in held back from %s", kept)
        raise InputError(ClassroomCode.TOO_MANY_TRIES, _(TOO_MANY))
    team = Team.objects.select_related("club").filter(join_code=tidy_join_code(code)[:8]).first()
    # An unknown code costs a hash too, or its quicker answer would tell that it is unknown.
    right = check_password(pin.strip(), team.pin_hash if team else _some_hash())
    if team is None or not right or not code_is_open(team, now):
        if team is not None and not right:
            note_guess(team, kept, now=now)
        log.warning("team sign-in refused from %s%s", kept, f" for team:{team.pk}" if team else "")
        raise InputError(ClassroomCode.NOT_LET_IN, _(NOT_LET_IN))
    counted.delete()
    return _open(team, now, language)


def open_tablet_for(coach: Coach, team: Team, *, now: dt.datetime) -> TabletSession:
    """A coach opens the tablet in hand for a team: the way in that needs no code, PIN or reading."""
    with transaction.atomic():
        note_in_audit(team.club, coach, "opened tablet", f"team:{team.pk}", now=now)
        return _open(team, now)


def sign_out_tablet(tablet: TabletSession, *, now: dt.datetime) -> None:
    TabletSession.objects.filter(pk=tablet.pk, ended_at=None).update(ended_at=now)
    log.info("tablet of team:%s signed out", tablet.team_id)


def see_tablet(tablet: TabletSession, *, now: dt.datetime) -> None:
    """Note that the tablet is still there, once a minute at most."""
    if now - tablet.last_seen_at > dt.timedelta(minutes=1):
        TabletSession.objects.filter(pk=tablet.pk).update(last_seen_at=now)


def _open(team: Team, now: dt.datetime, language: str = "") -> TabletSession:
    until = now + dt.timedelta(hours=settings.HELMROOM_TABLET_HOURS)
    log.info("tablet of team:%s opened", team.pk)
    return TabletSession.objects.create(
        team=team, started_at=now, last_seen_at=now, expires_at=until, language=known_language(language)
    )


@functools.cache
def _some_hash() -> str:
    return make_password("no team's PIN")
