"""Who needs the coach now, in the order of need: stuck before slipping before ready before quiet. Pure.

No ranking of teams: within one kind of need they stand in table order.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import NamedTuple

from missions.models import ProgressState
from missions.readiness.rules.standing import days_since


class Gist(NamedTuple):
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


class Kit(NamedTuple):
    """A team's robot as far as the board cares; ``changed_at`` is the last change of it or its calibration."""

    robot_id: int
    name: str
    calibrated_at: dt.datetime | None
    changed_at: dt.datetime


class Seen(NamedTuple):
    """A team in its table order."""

    team_id: int
    name: str
    kit: Kit | None


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
    "stuck": "are stuck.",
    "slipping_back": "are slipping back.",
    "same_miss": "miss the same way again.",
}


def needs_of(teams: Iterable[Seen], gists: Iterable[Gist], now: dt.datetime, quiet_days: int) -> list[Need]:
    """``now`` in the club's time zone."""
    by_team: dict[int, list[Gist]] = {}
    for gist in gists:
        if gist.state == ProgressState.WORKING:
            by_team.setdefault(gist.team_id, []).append(gist)
    found = [need for team in teams for need in _of_team(team, by_team.get(team.team_id, []), now, quiet_days)]
    return sorted(found, key=lambda need: ORDER.index(need.kind))


def needs_by_mission(needs: Iterable[Need]) -> Mapping[int, int]:
    """How many needs each mission has."""
    counts: dict[int, int] = {}
    for need in needs:
        if need.mission_id is not None:
            counts[need.mission_id] = counts.get(need.mission_id, 0) + 1
    return counts


def _of_team(team: Seen, every: list[Gist], now: dt.datetime, quiet_days: int) -> list[Need]:
    found = [
        _at(gist, team, "left_out", "worked on a tier that is no longer offered: pass or close it, and open another.")
        for gist in every
        if gist.left_out_at
    ]
    working = [gist for gist in every if not gist.left_out_at]
    if not working:
        return found
    for gist in working:
        stale = team.kit is not None and gist.last_run_at is not None and team.kit.changed_at > gist.last_run_at
        if stale or _is_quiet(gist, now, quiet_days):
            continue
        if gist.answer == "look" and gist.kind in LEADS:
            found.append(_at(gist, team, gist.kind, f"{LEADS[gist.kind]} {gist.why}"))
        elif gist.answer == "ready" and gist.held_at is None:
            found.append(_at(gist, team, "ready", f"are ready to move up. {gist.why}"))
    if team.kit is None:
        found.append(Need("no_robot", team.team_id, team.name, "have no robot."))
    elif team.kit.calibrated_at is None:
        words = f"run {team.kit.name} uncalibrated; plans use the kit's nominal numbers."
        found.append(Need("uncalibrated", team.team_id, team.name, words, robot_id=team.kit.robot_id))
    if all(_is_quiet(gist, now, quiet_days) for gist in working):
        latest = max(working, key=lambda gist: gist.last_run_at or gist.opened_at or now)
        days = days_since(latest.last_run_at or latest.opened_at, now)
        since = f"no run for {days} days" if latest.last_run_at else f"opened {days} days ago, no run yet"
        found.append(_at(latest, team, "gone_quiet", f"have gone quiet: {since}."))
    return found


def _is_quiet(gist: Gist, now: dt.datetime, quiet_days: int) -> bool:
    days = days_since(gist.last_run_at or gist.opened_at, now)
    return days is not None and days >= quiet_days


def _at(gist: Gist, team: Seen, kind: str, words: str) -> Need:
    return Need(kind, team.team_id, team.name, words, gist.tier_id, gist.tier_name, gist.mission_id, gist.mission_title)
