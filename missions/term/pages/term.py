"""What the Term page shows: its weeks with their sessions, the missions on the plan, the calendar that others follow."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import Count, Prefetch, Q
from django.utils import timezone

from classroom.models import Club, Session, Term
from missions.models import PlannedMission, SessionRun
from missions.term.rules.calendar import CalendarEvent, calendar_text


@dataclass(frozen=True)
class SessionLine:
    session: Session
    missions: tuple[str, ...]
    state: str
    why: str
    runs: int
    here: int
    is_marked: bool


@dataclass(frozen=True)
class Week:
    """A week of the term, from Monday on, and its sessions."""

    number: int
    monday: dt.date
    is_present: bool
    lines: tuple[SessionLine, ...]


def present_term(club: Club, today: dt.date) -> Term | None:
    """The term that is on, else the next, else the last."""
    terms = Term.objects.filter(club=club)
    on = terms.filter(starts_on__lte=today, ends_on__gte=today).first()
    return on or terms.filter(starts_on__gt=today).order_by("starts_on").first() or terms.first()


def weeks_of(term: Term, now: dt.datetime) -> list[Week]:
    planned = PlannedMission.objects.select_related("mission")
    sessions = (
        Session.objects.filter(term=term)
        .select_related("run", "term")
        .prefetch_related(Prefetch("planned", planned))
        .annotate(
            here=Count("attendance", filter=Q(attendance__present=True), distinct=True),
            marked=Count("attendance", distinct=True),
        )
    )
    runs = dict(
        Session.objects.filter(term=term, attempts__replaced_by=None, attempts__withdrawn_at=None)
        .annotate(n=Count("attempts"))
        .order_by()
        .values_list("pk", "n")
    )
    by_week: dict[dt.date, list[SessionLine]] = {}
    for session in sessions:
        day = timezone.localdate(session.starts_at)
        by_week.setdefault(_monday(day), []).append(_line(session, runs.get(session.pk, 0), now))
    first, last = _monday(term.starts_on), _monday(max(term.ends_on, term.starts_on))
    here = _monday(timezone.localdate(now))
    weeks = []
    for number in range((last - first).days // 7 + 1):
        monday = first + dt.timedelta(days=7 * number)
        weeks.append(Week(number + 1, monday, monday == here, tuple(by_week.get(monday, ()))))
    return weeks


def _line(session: Session, runs: int, now: dt.datetime) -> SessionLine:
    run: SessionRun | None = getattr(session, "run", None)
    cancelled = run is not None and run.cancelled_at is not None
    if cancelled:
        state = "cancelled"
    elif (run is not None and run.stopped_at is not None) or session.ends_at <= now:
        state = "over"
    else:
        state = "on" if session.starts_at <= now else "ahead"
    titles = tuple(dict.fromkeys(row.mission.title for row in session.planned.all()))
    why = run.cancelled_why if run and cancelled else ""
    return SessionLine(session, titles, state, why, runs, session.here, session.marked > 0)  # type: ignore[attr-defined]


def _monday(day: dt.date) -> dt.date:
    return day - dt.timedelta(days=day.weekday())


def club_calendar(club: Club, now: dt.datetime) -> str:
    """The club's sessions of the last year and all to come; no child's or team's name."""
    sessions = (
        Session.objects.filter(term__club=club, ends_at__gte=now - dt.timedelta(days=365))
        .select_related("run")
        .prefetch_related(Prefetch("planned", PlannedMission.objects.select_related("mission")))
    )
    return calendar_text(club.name, _events(club, sessions))


def _events(club: Club, sessions: Iterable[Session]) -> Iterable[CalendarEvent]:
    for session in sessions:
        run: SessionRun | None = getattr(session, "run", None)
        titles = list(dict.fromkeys(row.mission.title for row in session.planned.all()))
        name = f"helmroom:{club.pk}:{club.created_at.isoformat()}:session:{session.pk}"
        yield CalendarEvent(
            uid=str(uuid.uuid5(uuid.NAMESPACE_URL, name)),
            starts_at=session.starts_at,
            ends_at=session.ends_at,
            summary=f"{club.name}: {', '.join(titles)}" if titles else club.name,
            description=(run.cancelled_why if run and run.cancelled_at else ""),
            place=session.place,
            sequence=run.sequence if run else 0,
            changed_at=run.changed_at if run else club.created_at,
            cancelled=run is not None and run.cancelled_at is not None,
        )
