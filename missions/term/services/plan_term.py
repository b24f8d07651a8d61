"""The term's calendar: terms, sessions, the missions on their plan, the feed that others follow."""

from __future__ import annotations

import datetime as dt
import secrets
from dataclasses import dataclass

from django.db import transaction
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from classroom.club.services.audit import note_in_audit
from classroom.errors import InputError
from classroom.models import Attendance, Club, Coach, Session, Table, Term
from classroom.people.names import one_line
from classroom.site.clash.mark import mark_of, refuse_changed, refuse_stale
from classroom.site.isolated import isolated
from classroom.site.tokens import digest_of
from missions.day.services.plan_rota import clock_of, hold_run, refuse_away
from missions.errors import MissionsCode
from missions.models import Attempt, CalendarFeed, Mission, PlannedMission, QuickNote, RotaTurn, SessionRun
from missions.term.rules.local_time import moment, weekly

LONGEST = dt.timedelta(hours=12)


@dataclass(frozen=True)
class SessionTimes:
    """A session as a coach types it, in the club's zone."""

    day: dt.date
    starts: dt.time
    ends: dt.time
    place: str = ""


def term_mark(term: Term) -> str:
    return mark_of(term.name, term.starts_on, term.ends_on)


@transaction.atomic
def add_term(coach: Coach, name: str, starts_on: dt.date, ends_on: dt.date) -> Term:
    """A new term.

    Raises
    ------
    InputError
        ``no_name``, ``ends_before_start``, ``name_taken``, ``too_long``.
    """
    name = _checked_term(coach.club, name, starts_on, ends_on)
    return Term.objects.create(club=coach.club, name=name, starts_on=starts_on, ends_on=ends_on)


@transaction.atomic
def edit_term(
    term: Term,
    coach: Coach,
    name: str,
    starts_on: dt.date,
    ends_on: dt.date,
    *,
    seen: str | None = None,
    now: dt.datetime,
) -> None:
    """Another name or other dates; every session stays inside.

    Raises
    ------
    InputError
        As ``add_term``; ``sessions_outside``.
    ConflictError
        ``changed_meanwhile``.
    """
    term = Term.objects.select_for_update().get(pk=term.pk)
    subject = f"term:{term.pk}"
    refuse_changed(seen, term_mark(term), coach.club, subject, ("changed term",))
    term.name = _checked_term(coach.club, name, starts_on, ends_on, term)
    days = [timezone.localdate(at) for at in term.sessions.values_list("starts_at", flat=True)]
    outside = [day for day in days if not starts_on <= day <= ends_on]
    if outside:
        words = ngettext(
            "%(day)s has a session that would lie outside. Move or delete it first.",
            "%(day)s has a session that would lie outside. Move or delete it first, and others.",
            len(outside),
        )
        raise InputError(MissionsCode.SESSIONS_OUTSIDE, words % {"day": date_format(min(outside), "DATE_FORMAT")})
    term.starts_on, term.ends_on = starts_on, ends_on
    term.save(update_fields=["name", "starts_on", "ends_on"])
    note_in_audit(coach.club, coach, "changed term", subject, now=now)
    coach.club.touch()


def _checked_term(club: Club, name: str, starts_on: dt.date, ends_on: dt.date, term: Term | None = None) -> str:
    name = " ".join(name.split())
    if not name:
        raise InputError(MissionsCode.NO_NAME, _("Give the term a name, such as Autumn term."))
    if ends_on < starts_on:
        raise InputError(MissionsCode.ENDS_BEFORE_START, _("The term ends before it starts. Check the two dates."))
    if (ends_on - starts_on).days > 400:
        raise InputError(MissionsCode.TOO_LONG, _("A term is at most 400 days. Make two of it."))
    if Term.objects.filter(club=club, name=name).exclude(pk=term.pk if term else 0).exists():
        raise InputError(
            MissionsCode.NAME_TAKEN,
            _("There is a term named %(name)s already. Choose another name.") % {"name": isolated(name)},
        )
    return name


@transaction.atomic
def add_sessions(
    term: Term, times: SessionTimes, missions: list[Mission], *, every_week: bool, now: dt.datetime
) -> list[Session]:
    """One session, or the same every week until the term ends (by the wall clock, also over a change of clocks).

    All or none is made.

    Raises
    ------
    InputError
        ``ends_before_start``, ``too_long``, ``outside_term``, ``overlaps``, ``no_such_time``.
    """
    days = weekly(times.day, term.ends_on) if every_week and times.day <= term.ends_on else [times.day]
    made = []
    for day in days:
        starts_at, ends_at = _checked(term, SessionTimes(day, times.starts, times.ends), None)
        session = Session.objects.create(term=term, starts_at=starts_at, ends_at=ends_at, place=times.place)
        SessionRun.objects.create(session=session, changed_at=now)
        plan_missions(session, missions, now=now)
        made.append(session)
    term.club.touch()
    return made


def session_mark(session: Session) -> str:
    """Of what a session's form shows: when, where, which missions."""
    planned = list(dict.fromkeys(session.planned.order_by("order", "pk").values_list("mission", flat=True)))
    times = (session.starts_at.astimezone(dt.UTC), session.ends_at.astimezone(dt.UTC))
    return mark_of(*times, session.place, planned)


@transaction.atomic
def edit_session(
    session: Session,
    times: SessionTimes,
    missions: list[Mission],
    *,
    coach: Coach | None = None,
    seen: str | None = None,
    now: dt.datetime,
) -> None:
    """New times, place or missions. The rota's turns are taken off when the times change.

    Raises
    ------
    InputError
        As ``add_sessions``; ``has_begun`` when its times may no longer change.
    ConflictError
        ``changed_meanwhile``.
    """
    club, subject = session.term.club, f"session:{session.pk}"
    run = hold_run(session, now)
    fresh = Session.objects.select_for_update().get(pk=session.pk)
    refuse_changed(seen, session_mark(fresh), club, subject, ("changed session",))
    note_in_audit(club, coach, "changed session", subject, now=now)
    starts_at, ends_at = _checked(session.term, times, session)
    if starts_at != session.starts_at:
        if run.started_at is not None:
            raise InputError(
                MissionsCode.HAS_BEGUN, _("This session has begun: its start stays. Its end and place may change.")
            )
        RotaTurn.objects.filter(session=session).delete()
    elif ends_at < session.ends_at:
        run.session.ends_at = ends_at
        RotaTurn.objects.filter(session=session, slot__gte=clock_of(run).count).delete()
    session.starts_at, session.ends_at, session.place = starts_at, ends_at, times.place
    session.save(update_fields=["starts_at", "ends_at", "place"])
    plan_missions(session, missions, now=now)


@transaction.atomic
def plan_missions(session: Session, missions: list[Mission], *, now: dt.datetime) -> None:
    """The missions of a session, in order. Tables that were named for a mission stay named."""
    keep = PlannedMission.objects.filter(session=session, mission__in=missions)
    PlannedMission.objects.filter(session=session).exclude(pk__in=keep).delete()
    had = {row.mission_id: row for row in keep}
    for order, mission in enumerate(missions):
        if mission.pk in had:
            PlannedMission.objects.filter(session=session, mission=mission).update(order=order)
        else:
            PlannedMission.objects.create(session=session, mission=mission, order=order)
    _changed(session, now)


def tables_mark(session: Session) -> str:
    return mark_of(*session.planned.order_by("pk").values_list("mission", "table"))


@transaction.atomic
def place_missions(
    session: Session, tables: dict[int, Table | None], *, seen: str | None = None, now: dt.datetime
) -> None:
    """For each planned mission (by its number) the one table that it stands at, or None for any.

    Raises
    ------
    InputError
        ``table_away``.
    ConflictError
        ``changed_meanwhile``.
    """
    hold_run(session, now)
    refuse_stale(seen, tables_mark(session))
    for mission, table in tables.items():
        if table is not None:
            refuse_away(table)
        PlannedMission.objects.filter(session=session, mission=mission).update(table=table)
    session.term.club.touch()


@transaction.atomic
def cancel_session(session: Session, coach: Coach, why: str, *, now: dt.datetime) -> None:
    """It will not take place. It stays on the calendar as cancelled, so that followers see it."""
    run = hold_run(session, now)
    if run.started_at is not None:
        raise InputError(MissionsCode.HAS_BEGUN, _("This session has begun. End it on its page instead."))
    run.cancelled_at, run.cancelled_why = now, one_line(why)[:120]
    run.save(update_fields=["cancelled_at", "cancelled_why"])
    note_in_audit(coach.club, coach, "cancelled session", f"session:{session.pk}", now=now)
    _changed(session, now)


@transaction.atomic
def bring_back_session(session: Session, coach: Coach, *, now: dt.datetime) -> None:
    """A cancelled session takes place after all.

    Raises
    ------
    InputError
        ``overlaps``: another session has taken its time.
    """
    run = hold_run(session, now)
    _refuse_overlap(session.term.club, session.starts_at, session.ends_at, session)
    run.cancelled_at, run.cancelled_why = None, ""
    run.save(update_fields=["cancelled_at", "cancelled_why"])
    note_in_audit(coach.club, coach, "brought back session", f"session:{session.pk}", now=now)
    _changed(session, now)


@transaction.atomic
def remove_session(session: Session, coach: Coach, *, now: dt.datetime) -> None:
    """Take off a session that was entered by mistake.

    Raises
    ------
    InputError
        ``has_records``: something happened in it; cancel it instead.
    """
    for model in (Attempt, Attendance, QuickNote):
        if model._default_manager.filter(session=session).exists():
            raise InputError(
                MissionsCode.HAS_RECORDS, _("This session has runs, attendance or notes. Cancel it instead.")
            )
    note_in_audit(coach.club, coach, "removed session", f"session:{session.pk}", now=now)
    club = session.term.club
    session.delete()
    club.touch()


@transaction.atomic
def make_feed(coach: Coach, *, now: dt.datetime) -> str:
    """A new secret for the calendar's address; the old address stops. Shown once: only its digest is kept."""
    token = secrets.token_urlsafe(32)
    CalendarFeed.objects.update_or_create(
        club=coach.club, defaults={"token_digest": digest_of(token), "made_at": now, "made_by": coach}
    )
    note_in_audit(coach.club, coach, "made calendar address", now=now)
    return token


@transaction.atomic
def stop_feed(coach: Coach, *, now: dt.datetime) -> None:
    CalendarFeed.objects.filter(club=coach.club).delete()
    note_in_audit(coach.club, coach, "stopped calendar address", now=now)


def _checked(term: Term, times: SessionTimes, session: Session | None) -> tuple[dt.datetime, dt.datetime]:
    zone = term.club.time_zone
    starts_at, ends_at = moment(times.day, times.starts, zone), moment(times.day, times.ends, zone)
    if ends_at <= starts_at:
        raise InputError(MissionsCode.ENDS_BEFORE_START, _("The session ends before it starts. Check the two times."))
    if ends_at - starts_at > LONGEST:
        raise InputError(MissionsCode.TOO_LONG, _("A session is at most 12 hours. Check the two times."))
    if not term.starts_on <= times.day <= term.ends_on:
        words = _("%(day)s is outside %(term)s (%(first)s to %(last)s). Choose another date or term.") % {
            "day": date_format(times.day, "DATE_FORMAT"),
            "term": term.name,
            "first": date_format(term.starts_on, "SHORT_DAY_FORMAT"),
            "last": date_format(term.ends_on, "SHORT_DAY_FORMAT"),
        }
        raise InputError(MissionsCode.OUTSIDE_TERM, words)
    _refuse_overlap(term.club, starts_at, ends_at, session)
    return starts_at, ends_at


def _refuse_overlap(club: Club, starts_at: dt.datetime, ends_at: dt.datetime, session: Session | None) -> None:
    others = Session.objects.filter(
        term__club=club, run__cancelled_at=None, starts_at__lt=ends_at, ends_at__gt=starts_at
    ).exclude(pk=session.pk if session else 0)
    # Two in one term may not begin together even when one is cancelled: the database says so too.
    same = Session.objects.filter(term__club=club, starts_at=starts_at).exclude(pk=session.pk if session else 0)
    if other := others.first() or same.first():
        words = _("%(day)s already has a session at that time (%(term)s). Change one of the two.")
        day = date_format(starts_at, "MONTH_DAY_FORMAT")
        raise InputError(MissionsCode.OVERLAPS, words % {"day": day, "term": other.term})


def _changed(session: Session, now: dt.datetime) -> None:
    run = hold_run(session, now)
    run.sequence += 1
    run.changed_at = now
    run.save(update_fields=["sequence", "changed_at"])
    session.term.club.touch()
