"""Who needs the coach now, in the order of need: stuck before slipping before ready before quiet. Pure.

No ranking of teams: within one kind of need they stand in table order.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from typing import NamedTuple

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from classroom.site.isolated import isolated
from missions.models import ProgressState
from missions.readiness.own_words import own_words
from missions.readiness.rules.standing import days_since


class ProgressRow(NamedTuple):
    """What the needs are read from: one row of progress, without its evidence."""

    team_id: int
    tier_id: int
    tier_name: str
    mission_id: int
    mission_title: str
    state: str
    held_at: dt.datetime | None
    answer: str
    kind: str
    why: str
    last_run_at: dt.datetime | None
    opened_at: dt.datetime | None
    left_out_at: dt.datetime | None = None
    marked_at: dt.datetime | None = None


class TeamRobot(NamedTuple):
    """A team's robot as far as the board cares; ``changed_at`` is the last change of it or its calibration."""

    robot_id: int
    name: str
    calibrated_at: dt.datetime | None
    changed_at: dt.datetime | None


class TeamWithRobot(NamedTuple):
    """A team in its table order."""

    team_id: int
    name: str
    robot: TeamRobot | None


@dataclass(frozen=True)
class Need:
    """``words`` go on after the team's name."""

    kind: str
    team_id: int
    team: str
    words: str
    tier_id: int | None = None
    tier: str = ""
    mission_id: int | None = None
    mission: str = ""
    robot_id: int | None = None


ORDER = ("stuck", "slipping_back", "same_miss", "ready", "left_out", "no_robot", "uncalibrated", "gone_quiet")
LEADS = {
    "stuck": gettext_lazy("are stuck."),
    "slipping_back": gettext_lazy("are slipping back."),
    "same_miss": gettext_lazy("miss the same way again."),
}


def needs_of(
    teams: Iterable[TeamWithRobot], rows: Iterable[ProgressRow], now: dt.datetime, quiet_days: int
) -> list[Need]:
    """``now`` in the club's time zone."""
    by_team: dict[int, list[ProgressRow]] = {}
    for row in rows:
        if row.state == ProgressState.WORKING:
            by_team.setdefault(row.team_id, []).append(row)
    found = [need for team in teams for need in _of_team(team, by_team.get(team.team_id, []), now, quiet_days)]
    return sorted(found, key=lambda need: ORDER.index(need.kind))


def _of_team(team: TeamWithRobot, every: list[ProgressRow], now: dt.datetime, quiet_days: int) -> list[Need]:
    found = [
        _at(row, team, "left_out", _("worked on a tier that is no longer offered: pass or close it, and open another."))
        for row in every
        if row.left_out_at
    ]
    working = [row for row in every if not row.left_out_at]
    if not working:
        return found
    for row in working:
        changes = (team.robot.changed_at if team.robot else None, row.marked_at)
        stale = row.last_run_at is not None and any(moment and moment > row.last_run_at for moment in changes)
        if stale or _is_quiet(row, now, quiet_days):
            continue
        if row.answer == "look" and row.kind in LEADS:
            found.append(_at(row, team, row.kind, f"{LEADS[row.kind]} {own_words(row.why)}"))
        elif row.answer == "ready" and row.held_at is None:
            found.append(_at(row, team, "ready", _("are ready to move up. %(why)s") % {"why": own_words(row.why)}))
    if team.robot is None:
        found.append(Need("no_robot", team.team_id, team.name, _("have no robot.")))
    elif team.robot.calibrated_at is None:
        words = _("run %(robot)s uncalibrated; plans use the kit's nominal numbers.") % {
            "robot": isolated(team.robot.name)
        }
        found.append(Need("uncalibrated", team.team_id, team.name, words, robot_id=team.robot.robot_id))
    if all(_is_quiet(row, now, quiet_days) for row in working):
        latest = max(working, key=lambda row: row.last_run_at or row.opened_at or now)
        days = days_since(latest.last_run_at or latest.opened_at, now)
        words = (
            ngettext(
                "have gone quiet: no run for %(count)s day.", "have gone quiet: no run for %(count)s days.", days or 0
            )
            if latest.last_run_at
            else ngettext(
                "have gone quiet: opened %(count)s day ago, no run yet.",
                "have gone quiet: opened %(count)s days ago, no run yet.",
                days or 0,
            )
        )
        found.append(_at(latest, team, "gone_quiet", words % {"count": days}))
    return found


def _is_quiet(row: ProgressRow, now: dt.datetime, quiet_days: int) -> bool:
    days = days_since(row.last_run_at or row.opened_at, now)
    return days is not None and days >= quiet_days


def _at(row: ProgressRow, team: TeamWithRobot, kind: str, words: str) -> Need:
    return Need(kind, team.team_id, team.name, words, row.tier_id, row.tier_name, row.mission_id, row.mission_title)
