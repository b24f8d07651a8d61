"""What a coach does during a session: who is here, who is late, lent robots, notes, start and stop."""

from __future__ import annotations

import datetime as dt

from django.db import transaction
from django.utils.translation import gettext as _

from classroom.club.services.audit import note_in_audit
from classroom.errors import ConflictError, InputError, NotAllowedError
from classroom.models import Attendance, Coach, Member, Robot, RobotLoan, RobotState, Role, Session, Team
from classroom.people.names import one_line
from classroom.site.clash.mark import mark_of, refuse_stale
from classroom.site.isolated import isolated
from missions.day.services.plan_rota import clock_of, hold_run, refuse_closed
from missions.errors import MissionsCode
from missions.models import QuickNote, RotaTurn, SessionRun, TeamDay

LONGEST_NOTE = 300


@transaction.atomic
def start_session(session: Session, *, now: dt.datetime, as_planned: bool = False) -> SessionRun:
    """The session begins now, or began as planned and nobody pressed the button; the slots are counted from there.

    Raises
    ------
    ConflictError
        ``already_started``.
    InputError
        ``session_cancelled``, ``session_over``, ``past_its_end``.
    """
    run = hold_run(session, now)
    refuse_closed(run)
    if run.started_at is not None:
        raise ConflictError(MissionsCode.ALREADY_STARTED, _("This session has been started already."))
    if now >= session.ends_at:
        raise InputError(
            MissionsCode.PAST_ITS_END, _("This session's time is over. Change its times on the Term page first.")
        )
    run.started_at = min(now, session.starts_at) if as_planned else now
    RotaTurn.objects.filter(session=session, slot__gte=clock_of(run).count).delete()
    return _kept(run, "started_at")


@transaction.atomic
def stop_session(session: Session, *, now: dt.datetime) -> SessionRun:
    """The session ends now. Turns that had not begun are taken off, so that they count as table time for nobody.

    Raises
    ------
    InputError
        ``not_started``, ``session_over``.
    """
    run = hold_run(session, now)
    refuse_closed(run)
    if run.started_at is None:
        raise InputError(MissionsCode.NOT_STARTED, _("This session has not been started yet."))
    run.stopped_at = max(now, run.started_at)
    RotaTurn.objects.filter(session=session, slot__gte=clock_of(run).first_open(run.stopped_at)).delete()
    return _kept(run, "stopped_at")


@transaction.atomic
def resume_session(session: Session, *, now: dt.datetime) -> SessionRun:
    """Take back a stop that was a slip; the rota's later turns are planned anew by the coach."""
    run = hold_run(session, now)
    if run.stopped_at is None:
        raise ConflictError(MissionsCode.NOT_STOPPED, _("This session is running already."))
    run.stopped_at = None
    return _kept(run, "stopped_at")


def pace_mark(run: SessionRun) -> str:
    return mark_of(run.slot_minutes, run.needs_first)


@transaction.atomic
def set_pace(
    session: Session, *, minutes: int, needs_first: bool, seen: str | None = None, now: dt.datetime
) -> SessionRun:
    """How long a turn at a table is. Once turns have been played by the clock, it stays.

    Raises
    ------
    InputError
        ``slot_length``.
    ConflictError
        ``pace_is_set``, ``changed_meanwhile``.
    """
    if not 3 <= minutes <= 60:
        raise InputError(MissionsCode.SLOT_LENGTH, _("A turn at a table is 3 to 60 minutes. Type a number between."))
    run = hold_run(session, now)
    refuse_closed(run)
    refuse_stale(seen, pace_mark(run))
    begun = clock_of(run).slot_at(now) >= 0 and RotaTurn.objects.filter(session=session).exists()
    if minutes != run.slot_minutes and begun:
        raise ConflictError(
            MissionsCode.PACE_IS_SET, _("Turns have been played by this clock. Keep it until the session is over.")
        )
    if minutes != run.slot_minutes:
        RotaTurn.objects.filter(session=session).delete()
    run.slot_minutes, run.needs_first = minutes, needs_first
    return _kept(run, "slot_minutes", "needs_first")


@transaction.atomic
def mark_child(session: Session, member: Member, present: bool | None) -> None:
    """A child is here, is not, or has not been marked yet (None)."""
    if present is None:
        Attendance.objects.filter(session=session, member=member).delete()
    else:
        Attendance.objects.update_or_create(session=session, member=member, defaults={"present": present})
    session.term.club.touch()


@transaction.atomic
def mark_team(session: Session, team: Team, present: bool, members: list[Member]) -> None:
    """All of a team's children whom nobody has marked yet: another coach's mark stays."""
    Attendance.objects.bulk_create(
        [Attendance(session=session, member=member, present=present) for member in members], ignore_conflicts=True
    )
    TeamDay.objects.filter(session=session, team=team).update(away=False, late_until=None)
    session.term.club.touch()


@transaction.atomic
def set_team_day(
    session: Session, team: Team, *, away: bool = False, late_minutes: int = 0, now: dt.datetime
) -> TeamDay:
    """A team stays away, comes in so many minutes, or (neither) is here as usual.

    Raises
    ------
    InputError
        ``too_late``: after the session's end.
    """
    late_until = None
    if late_minutes > 0 and not away:
        late_until = max(now, session.starts_at) + dt.timedelta(minutes=late_minutes)
    if late_until is not None and late_until >= session.ends_at:
        raise InputError(
            MissionsCode.TOO_LATE,
            _("%(team)s would come after the end. Mark the team as away instead.") % {"team": isolated(team)},
        )
    day, _made = TeamDay.objects.update_or_create(
        session=session, team=team, defaults={"away": away, "late_until": late_until}
    )
    session.term.club.touch()
    return day


@transaction.atomic
def lend_robot(session: Session, team: Team, robot: Robot | None) -> None:
    """A robot for this day only; None takes it back.

    Raises
    ------
    InputError
        ``robot_not_at_hand``.
    """
    if robot is not None and robot.state != RobotState.IN_SERVICE:
        raise InputError(
            MissionsCode.ROBOT_NOT_AT_HAND,
            _("%(robot)s is not in service. Choose another robot.") % {"robot": isolated(robot)},
        )
    if robot is None:
        RobotLoan.objects.filter(session=session, team=team).delete()
    else:
        RobotLoan.objects.update_or_create(session=session, team=team, defaults={"robot": robot})
    session.term.club.touch()


@transaction.atomic
def write_note(session: Session, coach: Coach, text: str, team: Team | None, *, now: dt.datetime) -> QuickNote:
    """A line about the session or one team.

    Raises
    ------
    InputError
        ``empty_note``, ``long_note``.
    """
    text = one_line(text)
    if not text:
        raise InputError(MissionsCode.EMPTY_NOTE, _("Write a few words first."))
    if len(text) > LONGEST_NOTE:
        raise InputError(
            MissionsCode.LONG_NOTE,
            _("Keep a note to %(most)s characters; split it in two.") % {"most": LONGEST_NOTE},
        )
    note = QuickNote.objects.create(session=session, team=team, text=text, at=now, by=coach)
    session.term.club.touch()
    return note


@transaction.atomic
def take_back_note(session: Session, coach: Coach, key: int, *, now: dt.datetime) -> None:
    """Off for good: a note must not stay that says what it should not.

    Raises
    ------
    ConflictError
        ``note_gone``.
    NotAllowedError
        ``not_yours``.
    """
    note = QuickNote.objects.select_for_update().filter(session=session, pk=key).first()
    if note is None:
        raise ConflictError(MissionsCode.NOTE_GONE, _("That note is gone already."))
    if note.by_id != coach.pk and coach.role != Role.LEAD:
        raise NotAllowedError(
            MissionsCode.NOT_YOURS, _("Who wrote a note, or a lead coach, takes it back. Ask one of them.")
        )
    note.delete()
    note_in_audit(coach.club, coach, "took back note", f"session:{session.pk}", now=now)
    session.term.club.touch()


def _kept(run: SessionRun, *fields: str) -> SessionRun:
    run.save(update_fields=list(fields))
    run.session.term.club.touch()
    return run
