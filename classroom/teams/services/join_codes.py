"""The two things on a team's sign-in card: a join code and a PIN. Both from the system's random source.

OWASP ASVS 5.0.0, 6.4.1 and 6.5.3: made by a CSPRNG, short-lived, and no default that is the same twice.
"""

from __future__ import annotations

import datetime as dt
import re
import secrets
from zoneinfo import ZoneInfo

from django.conf import settings
from django.contrib.auth.hashers import make_password
from django.db import transaction
from django.utils.translation import gettext as _

from classroom.club.services.audit import note_in_audit
from classroom.errors import ClassroomCode, ConflictError
from classroom.models import Club, Coach, TabletSession, Team, Term
from classroom.teams.guessed_codes import forget_guesses

#: No 0 O, 1 I L, 5 S, 2 Z, 8 B, and no U or V: what a child reads off a card is what was printed.
ALPHABET = "34679ACDEFGHJKMNPQRTWXY"
CODE_LENGTH = 8
PIN_LENGTH = 6


def new_join_code() -> str:
    """Eight symbols, about 36 bits."""
    return "".join(secrets.choice(ALPHABET) for _ in range(CODE_LENGTH))


def new_pin() -> str:
    """Six digits, each pin alike likely."""
    return f"{secrets.randbelow(10**PIN_LENGTH):0{PIN_LENGTH}d}"


def tidy_join_code(typed: str) -> str:
    """A code as typed by a child: any case, spaces and dashes left out."""
    return re.sub(r"[\s\-–·.]", "", typed).upper()


def spaced(code: str) -> str:
    """A code as printed, in two groups."""
    return f"{code[:4]} {code[4:]}"


def code_is_open(team: Team, now: dt.datetime) -> bool:
    return team.archived_at is None and (team.join_code_expires_at is None or team.join_code_expires_at > now)


def code_end(club: Club, until: str, now: dt.datetime) -> dt.datetime:
    """When a code ends that is good until the end of ``today``, of a ``week`` or of the ``term``, in the club's time."""
    zone = ZoneInfo(club.time_zone)
    day = now.astimezone(zone).date()
    if until == "week":
        day += dt.timedelta(days=7)
    elif until == "term":
        term = Term.objects.filter(club=club, starts_on__lte=day, ends_on__gte=day).order_by("ends_on").last()
        day = term.ends_on if term else day + dt.timedelta(days=settings.HELMROOM_LINK_DAYS)
    return dt.datetime.combine(day, dt.time(23, 59, 59), tzinfo=zone)


@transaction.atomic
def issue_join_code(team: Team, coach: Coach | None, *, now: dt.datetime, expires_at: dt.datetime | None = None) -> str:
    """A new code in place of the old one, which opens nothing from now on. Tablets already in stay in."""
    code = unused_join_code()
    team.join_code, team.join_code_expires_at = code, expires_at
    team.save(update_fields=["join_code", "join_code_expires_at"])
    forget_guesses(team)
    note_in_audit(team.club, coach, "issued code", f"team:{team.pk}", now=now)
    return code


@transaction.atomic
def issue_pin(team: Team, coach: Coach | None, *, now: dt.datetime) -> str:
    """A new PIN; the caller shows it once, since only its hash is kept."""
    pin = new_pin()
    team.pin_hash = make_password(pin)
    team.save(update_fields=["pin_hash"])
    note_in_audit(team.club, coach, "issued PIN", f"team:{team.pk}", now=now)
    return pin


@transaction.atomic
def end_tablet_sessions(coach: Coach, *, team: Team | None = None, now: dt.datetime) -> int:
    """Sign out one team's tablets, or all of the club's. What they had saved is kept."""
    open_now = TabletSession.objects.filter(team__club=coach.club, ended_at=None, expires_at__gt=now)
    if team is not None:
        open_now = open_now.filter(team=team)
    ended = open_now.update(ended_at=now)
    note_in_audit(coach.club, coach, "ended tablets", f"team:{team.pk}" if team else "all teams", now=now)
    coach.club.touch()
    return ended


def unused_join_code() -> str:
    for _try in range(20):
        code = new_join_code()
        if not Team.objects.filter(join_code=code).exists():
            return code
    raise ConflictError(ClassroomCode.NO_FREE_CODE, _("No free code was found; try once more."))
