"""Today in the demonstration club: who came, the cautions, the tables, what is due."""

from __future__ import annotations

import datetime as dt
import time

import numpy as np

from classroom.models import Attendance, Membership, ServiceNote
from classroom.robots.services.keep_robot import note_service
from classroom.robots.services.keep_spare import SpareLine, add_spare
from config.demo.people import THIS_WEEK, ZONE, Cast
from missions.day.services.plan_rota import solve_rota
from missions.day.services.safety_cards import check_cards, ensure_safety_cards
from missions.models import Mission
from missions.term.services.plan_term import plan_missions

#: From which week on each mission is planned.
BEGINS = {"Tide gate": 1, "Fog bell": 5, "Causeway crate": 8}


def set_the_day(cast: Cast, rng: np.random.Generator, now: dt.datetime) -> None:
    """Fill the calendar and today's page."""
    missions = list(Mission.objects.filter(club=cast.club))
    children = list(Membership.objects.filter(team__club=cast.club).select_related("member"))
    for week, session in enumerate(cast.sessions, start=1):
        plan_missions(session, [m for m in missions if BEGINS[m.title] <= week], now=now)
        if week < THIS_WEEK:
            Attendance.objects.bulk_create(
                Attendance(session=session, member=each.member, present=bool(rng.random() > 0.07)) for each in children
            )
    cards = ensure_safety_cards(cast.club)
    check_cards(cast.coach, cards[:6], now=now, on=now.astimezone(ZONE).date())
    _service(cast, now.astimezone(ZONE).date())
    _spares(cast, now)
    today = cast.sessions[THIS_WEEK - 1]
    solve_rota(today, now=today.starts_at, clock=time.monotonic, seconds=3)  # planned before it began, half an hour ago


def _service(cast: Cast, today: dt.date) -> None:
    week = dt.timedelta(days=7)
    notes = (
        ("Curlew", "battery", "Charge it overnight", today - week, today, None),
        ("Plover", "repair", "Left wheel rubs on the axle: put a spacer in", today - 2 * week, None, today - week),
        ("Heron", "battery", "Cell holds less than it did", today - 3 * week, today + week, None),
    )
    ServiceNote.objects.bulk_create(
        ServiceNote(robot=cast.robots[team], kind=kind, text=text, on=on, due_on=due, done_on=done, by=cast.coach)
        for team, kind, text, on, due, done in notes
    )


SPARES = (
    ("Tyre", 4, 4, "Grey cabinet, drawer 2"),
    ("Axle spacer", 11, 6, "Grey cabinet, drawer 2"),
    ("Drive belt", 3, 2, "Grey cabinet, drawer 3"),
    ("Charging lead", 2, 2, "Hook by the door"),
    ("Mat tape, roll", 1, 3, "Box under Table A"),
)


def _spares(cast: Cast, now: dt.datetime) -> None:
    """What lies in the cabinet; a service last week took two tyres, so two are to be bought."""
    spares = {line[0]: add_spare(cast.club, cast.coach, SpareLine(*line), now=now) for line in SPARES}
    note_service(
        cast.robots["Knot"],
        cast.coach,
        kind="part",
        text="Both tyres worn smooth: new ones on",
        due_on=None,
        spare=spares["Tyre"],
        spare_count=2,
        now=now - dt.timedelta(days=7),
    )
