"""What the board said at the end of an earlier day: from the decisions and the runs as they were known then.

A run that was corrected or withdrawn later still counts as it did; the robot is the one the team had that day; the bar
is the one that was set then.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import replace
from typing import Any
from zoneinfo import ZoneInfo

from django.db.models import Q

from classroom.models import Club, Team
from classroom.robots.robot_at import HeldRobot, robots_at
from missions.models import Attempt, BarChange, ChangeMark, Mission, Progress, ProgressChange, ProgressState
from missions.readiness.pages.board import Board, BoardRow, Choice, rungs_of, with_robot
from missions.readiness.rules.standing import BoardCell, BoardTier, cell_of
from missions.readiness.services.evidence import merged, read_answer, said_runs, summarise


def read_board_on(club: Club, day: dt.date, now: dt.datetime, mission_id: int | None = None) -> Board | None:
    """The board of one mission at the end of ``day`` in the club's time zone, or at ``now`` if that is earlier."""
    zone = ZoneInfo(club.time_zone)
    at = min(dt.datetime.combine(day + dt.timedelta(days=1), dt.time(), zone), now.astimezone(zone))
    missions = list(Mission.objects.filter(club=club).published())
    mission = next((one for one in missions if mission_id in (None, one.pk)), None)
    if mission is None:
        return None if mission_id is not None else Board(None, [], [], [], [], {}, 0, on=day)
    rungs = _rules_then(club, rungs_of(club, mission, at), at)
    if rungs:
        mission.title = rungs[0].edition.version.title  # as it was called then; never saved
    teams = list(Team.objects.filter(Q(archived_at=None) | Q(archived_at__gt=at), club=club))
    progress = {(row.team_id, row.tier_id): row for row in Progress.objects.filter(tier__mission=mission)}
    decisions = _decisions(mission)
    runs = _runs_until(mission, at)
    marks = _marks_until(mission, at)
    robots = robots_at(club, at - dt.timedelta(microseconds=1))  # midnight itself is the next day
    rows = []
    for team in teams:
        cells = []
        for rung in rungs:
            row = progress.get((team.pk, rung.tier.pk))
            changes = decisions.get(row.pk, []) if row else []
            made = runs.get((team.pk, rung.tier.pk), [])
            cells.append(_cell(club, team, rung, row, changes, made, marks.get(team.pk, []), robots.get(team.pk), at))
        rows.append(BoardRow(with_robot(team, robots.get(team.pk), at), cells))
    return Board(mission, [Choice(one, False) for one in missions], rungs, rows, [], {}, len(teams), on=day)


def _rules_then(club: Club, rungs: Sequence[BoardTier], at: dt.datetime) -> list[BoardTier]:
    """Each rung with the bar as it was: what the first change after ``at`` says that it changed."""
    editions = [rung.edition.pk for rung in rungs]
    later = BarChange.objects.filter(Q(tier_version=None) | Q(tier_version__in=editions), club=club, at__gte=at)
    before: dict[int | None, dict[str, Any]] = {}
    for change in later.order_by("at", "pk"):
        before.setdefault(change.tier_version_id, change.before)
    policy = before.get(None, club.readiness_policy)
    return [
        replace(rung, rule=merged(policy, rung.edition, before.get(rung.edition.pk, rung.edition.rule)))
        for rung in rungs
    ]


def _decisions(mission: Mission) -> dict[int, list[ProgressChange]]:
    """Every decision on each progress, by its key, oldest first."""
    found: dict[int, list[ProgressChange]] = {}
    changes = ProgressChange.objects.select_related("by__user").filter(progress__tier__mission=mission)
    for change in changes.order_by("at", "pk"):
        found.setdefault(change.progress_id, []).append(change)
    return found


def _runs_until(mission: Mission, at: dt.datetime) -> dict[tuple[int, int], list[Attempt]]:
    rows = Attempt.objects.standing(at).filter(tier__mission=mission, made_at__lt=at).select_related("robot")
    found: dict[tuple[int, int], list[Attempt]] = {}
    for row in rows.order_by("made_at", "pk"):
        found.setdefault((row.team_id, row.tier_id), []).append(row)
    return found


def _marks_until(mission: Mission, at: dt.datetime) -> dict[int, list[dt.datetime]]:
    """When each team had changed something that concerns the mission, as it was known then."""
    found: dict[int, list[dt.datetime]] = {}
    rows = ChangeMark.objects.standing(at).filter(Q(mission=None) | Q(mission=mission), team__club=mission.club_id)
    for team_id, moment in rows.values_list("team_id", "at"):
        found.setdefault(team_id, []).append(moment)
    return found


def _cell(
    club: Club,
    team: Team,
    rung: BoardTier,
    progress: Progress | None,
    changes: Sequence[ProgressChange],
    runs: list[Attempt],
    marks: list[dt.datetime],
    held: HeldRobot | None,
    at: dt.datetime,
) -> BoardCell:
    state = state_at(progress, changes, at) if progress else ProgressState.NOT_OPEN
    if progress is None or state == ProgressState.NOT_OPEN:
        return BoardCell(team.pk, rung)
    gathered, extras = summarise(runs, rung.rule, ZoneInfo(club.time_zone), marks)
    kept: dict[str, Any] = gathered.as_dict() | extras
    evidence, found = read_answer(kept, rung.rule, held, at, max(marks, default=None))
    last = next((change for change in reversed(changes) if change.at < at), None)
    was_held = last is not None and last.holds
    signed = last if was_held or state == ProgressState.PASSED else None
    said = said_runs(kept, held, at)
    return cell_of(team.pk, rung, progress, found, evidence, kept, said, club.unit, signed, state, was_held)


def state_at(progress: Progress, changes: Sequence[ProgressChange], at: dt.datetime) -> str:
    """The state that a coach's decisions had brought about by ``at``; ``changes`` oldest first."""
    before = [change for change in changes if change.at < at]
    if before:
        return before[-1].to_state
    if changes:
        return changes[0].from_state
    # Without any decision on record the row's own dates are all there is.
    if progress.opened_at is None or progress.opened_at >= at:
        return ProgressState.NOT_OPEN
    if progress.passed_at is not None and progress.passed_at >= at:
        return ProgressState.WORKING
    return progress.state
