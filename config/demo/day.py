"""Today in the demonstration club: who came, the cautions, the tables, what is due."""

from __future__ import annotations

import datetime as dt
from zoneinfo import ZoneInfo

import numpy as np

from classroom.models import Attendance, Membership, Robot, ServiceNote
from classroom.robots.services.keep_robot import note_service
from classroom.robots.services.keep_spare import add_spare
from config.demo.people import Cast
from missions.day.services.plan_rota import solve_rota
from missions.day.services.run_session import start_session
from missions.day.services.safety_cards import check_cards, ensure_safety_cards
from missions.models import Mission
from missions.term.services.plan_phases import set_phases
from missions.term.services.plan_term import plan_missions


def set_the_day(cast: Cast, rng: np.random.Generator, now: dt.datetime) -> None:
    """Fill the calendar and today's page."""
    story = cast.story
    missions = list(Mission.objects.filter(club=cast.club))
    children = list(Membership.objects.filter(team__club=cast.club).select_related("member"))
    for week, session in enumerate(cast.sessions, start=1):
        plan_missions(session, [m for m in missions if story.planned_from_week[m.title] <= week], now=now)
        if week < story.term.this_week:
            Attendance.objects.bulk_create(
                Attendance(session=session, member=each.member, present=bool(rng.random() > story.absent_share))
                for each in children
            )
    local_day = now.astimezone(ZoneInfo(cast.club.time_zone)).date()
    cards = ensure_safety_cards(cast.club)
    checked = [card for card in cards if card.subject in story.cautions_checked_today]
    check_cards(cast.coach, checked, now=now, on=local_day)
    _service(cast, local_day)
    _spares(cast, now)
    today = cast.sessions[story.term.this_week - 1]
    set_phases(today.term, cast.coach, [(part.name, part.minutes) for part in story.parts], now=today.starts_at)
    today.term.refresh_from_db()
    solve_rota(today, now=today.starts_at)  # planned before it began, half an hour ago
    start_session(today, now=today.starts_at)


def _robots(cast: Cast) -> dict[str, Robot]:
    return {robot.name: robot for robot in cast.robots.values()}


def _service(cast: Cast, today: dt.date) -> None:
    """Notes that used no spare."""
    robots, week = _robots(cast), dt.timedelta(days=7)
    ServiceNote.objects.bulk_create(
        ServiceNote(
            robot=robots[note.robot],
            kind=note.kind,
            text=note.text,
            on=today - note.weeks_ago * week,
            due_on=None if note.due_in_weeks is None else today + note.due_in_weeks * week,
            done_on=None if note.done_weeks_ago is None else today - note.done_weeks_ago * week,
            by=cast.coach,
        )
        for note in cast.story.service
        if not note.spare
    )


def _spares(cast: Cast, now: dt.datetime) -> None:
    """What lies in the cabinet, less what services took from it."""
    robots = _robots(cast)
    spares = {line.name: add_spare(cast.club, cast.coach, line, now=now) for line in cast.story.spares}
    for note in cast.story.service:
        if note.spare:
            note_service(
                robots[note.robot],
                cast.coach,
                kind=note.kind,
                text=note.text,
                due_on=None,
                spare=spares[note.spare],
                spare_count=note.spare_count,
                now=now - dt.timedelta(weeks=note.weeks_ago),
            )
