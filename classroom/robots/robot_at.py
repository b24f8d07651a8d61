"""Which session is on at a moment, and which robot each team has then: one lent for it, else its own.

The one place that answers this: the board, the evidence, an earlier day's board, Today, cards, plans and runs ask here.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import NamedTuple
from zoneinfo import ZoneInfo

from django.db.models import Q

from classroom.models import Calibration, Club, Robot, RobotAssignment, RobotLoan, Session, Team
from classroom.robots.kinds import NUMBERING


@dataclass(frozen=True)
class HeldRobot:
    """A robot in a team's hands.

    ``calibrated_at`` is its newest calibration at that moment, ``renumbered_at`` the newest that did not just confirm
    the one before it, ``numbered_at`` the newest of how far it goes and turns, which changes the numbers to type.
    """

    robot: Robot
    is_lent: bool
    calibrated_at: dt.datetime | None
    renumbered_at: dt.datetime | None
    numbered_at: dt.datetime | None = None

    def last_changed(self, at: dt.datetime) -> dt.datetime | None:
        """When its build or the numbers to type last changed before ``at``; runs before that were of another robot.

        A robot's own column only knows its last rebuilding: one after that moment says nothing about it.
        """
        known = (self.robot.changed_at, self.numbered_at)
        return max((moment for moment in known if moment is not None and moment <= at), default=None)


def session_at(club: Club, at: dt.datetime) -> Session | None:
    """The session on that day in the club's time zone; the one that began last, of two."""
    zone = ZoneInfo(club.time_zone)
    midnight = dt.datetime.combine(at.astimezone(zone).date(), dt.time(), zone)
    today = Session.objects.filter(
        term__club=club, starts_at__gte=midnight, starts_at__lt=midnight + dt.timedelta(days=1)
    )
    found = list(today.order_by("starts_at"))
    begun = [session for session in found if session.starts_at <= at]
    return begun[-1] if begun else found[0] if found else None


def robots_at(club: Club, at: dt.datetime, *, team: Team | None = None) -> dict[int, HeldRobot]:
    """By team, for those that the records give one; of one team if asked."""
    return robots_in(club, session_at(club, at), at, team=team)


def robots_in(
    club: Club, session: Session | None, at: dt.datetime, *, team: Team | None = None
) -> dict[int, HeldRobot]:
    """As ``robots_at``, with the session known."""
    held = robots_in_hand(club, session, at, team=team)
    moments = _measured({one.robot.pk for one in held.values()}, at)
    return {team_id: HeldRobot(*one, *moments[one.robot.pk]) for team_id, one in held.items()}


class InHand(NamedTuple):
    """As ``HeldRobot``, for whom it is all the same when it was measured."""

    robot: Robot
    is_lent: bool


def robots_in_hand(
    club: Club, session: Session | None, at: dt.datetime, *, team: Team | None = None
) -> dict[int, InHand]:
    """By team, for those that the records give one; of one team if asked. Two queries, one away from sessions."""
    only = {"team": team} if team is not None else {"team__club": club}
    day = at.astimezone(ZoneInfo(club.time_zone)).date()
    own = RobotAssignment.objects.filter(Q(to_on=None) | Q(to_on__gte=day), from_on__lte=day, **only)
    held = {
        row.team_id: InHand(row.robot, is_lent=False) for row in own.select_related("robot").order_by("from_on", "pk")
    }
    if session is not None:
        lent = RobotLoan.objects.filter(session=session, **only).select_related("robot")
        held |= {row.team_id: InHand(row.robot, is_lent=True) for row in lent}
    return held


class _Measured(NamedTuple):
    """Moments of ``HeldRobot``."""

    calibrated_at: dt.datetime | None
    renumbered_at: dt.datetime | None
    numbered_at: dt.datetime | None


def _measured(robots: Collection[int], at: dt.datetime) -> Mapping[int, _Measured]:
    rows: dict[int, list[tuple[dt.datetime, str, bool]]] = {pk: [] for pk in robots}
    for pk, kind, confirms, newest in Calibration.objects.newest_of_each(robots, at) if robots else ():
        rows[pk].append((newest, kind, confirms))
    return {
        pk: _Measured(
            max((newest for newest, _, _ in found), default=None),
            max((newest for newest, _, confirms in found if not confirms), default=None),
            max((newest for newest, kind, _ in found if kind in NUMBERING), default=None),
        )
        for pk, found in rows.items()
    }


def robot_at(team: Team, at: dt.datetime) -> Robot | None:
    """None where the records have none."""
    held = robots_in_hand(team.club, session_at(team.club, at), at, team=team).get(team.pk)
    return held.robot if held else None
