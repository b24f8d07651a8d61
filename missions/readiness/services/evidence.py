"""A team's running evidence in a tier: kept up with every run, worked out anew when something before it changes."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from itertools import pairwise
from typing import Any
from zoneinfo import ZoneInfo

from classroom.models import Calibration, Club
from classroom.robots.robot_at import HeldRobot, robots_at
from missions.access import current_tier_version
from missions.models import Attempt, ChangeMark, Progress, Tier, TierVersion
from missions.readiness.rules.answer import ReadinessAnswer, answer
from missions.readiness.rules.evidence import CountedRun, Evidence, Rule, gather, update
from missions.runs.rules.runs_say import SaidRun, keep_run, kept_since

READY = "ready"
ANSWER_FIELDS = ("answer", "answer_kind", "why", "need", "last_run_at", "updated_at")


def rule_for(club: Club, edition: TierVersion | None) -> Rule:
    """The default rule, with what the club changes in it, with what the tier changes in that."""
    return merged(club.readiness_policy, edition, edition.rule if edition else {})


def merged(policy: dict[str, Any], edition: TierVersion | None, own: dict[str, Any]) -> Rule:
    """As ``rule_for``, with the club's and the tier's own parts as given: those of another day, or only thought of."""
    return Rule.of(policy, own, {"time_limit_s": edition.time_limit_s if edition else None})


def refresh_evidence(progress: Progress, now: dt.datetime, newest: Attempt | None = None) -> Progress:
    """Bring the evidence up to date and keep what the rule says of it.

    With ``newest``, a run that is later than all others, the summary takes one step, whatever the history. Otherwise
    (a withdrawal, a correction, a run that comes late, another rule) it is gathered anew from the standing runs.
    """
    rule = rule_for(progress.team.club, current_tier_version(progress.tier))
    zone = ZoneInfo(progress.team.club.time_zone)
    kept = progress.evidence
    current = kept.get("fold") == _fold(rule) and "last" in kept
    if newest is not None and current and _is_later(newest, progress):
        evidence, extras = _one_more(kept, newest, rule, zone, progress.marked_at)
        progress.evidence = evidence.as_dict() | extras
    else:
        progress.evidence = _gathered(progress, rule, zone)
    _keep_answer(progress, rule, now)
    progress.save(update_fields=["evidence", *ANSWER_FIELDS])
    return progress


def refresh_tier(tier: Tier, now: dt.datetime) -> int:
    """After its rule has changed: every team's evidence in it, read anew. Returns how many."""
    rule = rule_for(tier.mission.club, current_tier_version(tier))
    rows = list(Progress.objects.select_for_update(of=("self",)).select_related("team__club").filter(tier=tier))
    for progress in rows:
        if progress.evidence.get("fold") != _fold(rule):
            progress.evidence = _gathered(progress, rule, ZoneInfo(tier.mission.club.time_zone))
        _keep_answer(progress, rule, now)
    Progress.objects.bulk_update(rows, ["evidence", *ANSWER_FIELDS])
    return len(rows)


def _gathered(progress: Progress, rule: Rule, zone: ZoneInfo) -> dict[str, Any]:
    runs = Attempt.objects.standing().filter(team=progress.team_id, tier=progress.tier_id)
    marks: Iterable[dt.datetime] = ()
    if progress.marked_at is not None:
        standing = ChangeMark.objects.standing().filter(team=progress.team_id).of_tier(progress.tier)
        marks = standing.values_list("at", flat=True)
    evidence, extras = summarise(runs.select_related("robot").order_by("made_at", "pk"), rule, zone, marks)
    return evidence.as_dict() | extras


def _keep_answer(progress: Progress, rule: Rule, now: dt.datetime) -> None:
    evidence = Evidence.from_dict(progress.evidence)
    found = answer(evidence, rule, now.astimezone(ZoneInfo(progress.team.club.time_zone)))
    progress.answer, progress.answer_kind, progress.why, progress.need = found.code, found.kind, found.why, found.need
    progress.last_run_at = evidence.last_at
    progress.updated_at = now


def summarise(
    attempts: Iterable[Attempt], rule: Rule, zone: ZoneInfo, marks: Iterable[dt.datetime] = ()
) -> tuple[Evidence, dict[str, Any]]:
    """Evidence of attempts (with their robots) in order of time, and what the board shows beside it.

    ``marks`` are the moments at which the team or a coach said that something was changed.
    """
    rows = list(attempts)
    runs = [_plain(row, zone) for row in rows]
    pairs = list(pairwise(rows))
    generations = _generations(pair for pair in pairs if _other_calibration(*pair))
    changes = [run.at for pair, run in zip(pairs, runs[1:], strict=True) if _other_numbers(*pair, generations)]
    changes += marks
    robot = rows[-1].robot if rows else None
    if robot is not None:
        changes.append(robot.changed_at)
    extras: dict[str, Any] = {"fold": _fold(rule), "best_s": None, "last": {}}
    for row in rows:
        extras |= _extras(extras, row)
    return gather(runs, rule, changes), extras


def answer_now(progress: Progress, now: dt.datetime) -> ReadinessAnswer:
    """What the rule says at this moment: the kept evidence, seen with the robot as it is today."""
    held = robots_at(progress.team.club, now, team=progress.team).get(progress.team_id)
    return answer_with(progress, current_tier_version(progress.tier), held, now)


def answer_with(
    progress: Progress, edition: TierVersion | None, held: HeldRobot | None, now: dt.datetime
) -> ReadinessAnswer:
    """As ``answer_now``, with the newest version of the tier and the robot in the team's hands known."""
    club = progress.team.club
    at = now.astimezone(ZoneInfo(club.time_zone))
    return read_answer(progress.evidence, rule_for(club, edition), held, at, progress.marked_at)[1]


def read_answer(
    kept: dict[str, Any], rule: Rule, held: HeldRobot | None, at: dt.datetime, marked_at: dt.datetime | None = None
) -> tuple[Evidence, ReadinessAnswer]:
    """Kept evidence and what the rule says of it at a moment, in the club's time zone, with the robot of that moment.

    ``marked_at`` is when the team or a coach last said that something was changed.
    """
    evidence = Evidence.from_dict(kept)
    return evidence, answer(evidence, rule, at, _latest(changed_at(kept, held, at), marked_at))


def changed_at(kept: dict[str, Any], held: HeldRobot | None, at: dt.datetime) -> dt.datetime | None:
    """When the team's robot, its build or its numbers last changed; later than the last run means stale.

    Evidence of another robot than the one in the team's hands has all been overtaken, whenever that changed hands.
    """
    if held is None:
        return None
    if kept.get("robot") not in (None, held.robot.pk):
        return at
    # A robot's own column only knows its last rebuilding; one after that moment says nothing about it.
    return _latest(*(m for m in (held.robot.changed_at, held.renumbered_at) if m is not None and m <= at))


def said_runs(kept: dict[str, Any], held: HeldRobot | None, at: dt.datetime) -> list[SaidRun]:
    """Of kept evidence the runs that count for what the runs say, with the robot of that moment."""
    if held is None:
        return []
    return kept_since(kept.get("last", {}), held.robot.pk, held.last_changed(at))


def snapshot(progress: Progress, found: ReadinessAnswer) -> dict[str, Any]:
    """What a decision rested on, kept with it."""
    return {
        "tier": progress.tier.name,
        "answer": found.code,
        "kind": found.kind,
        "why": found.why,
        "need": found.need,
        "successes": found.successes,
        "of": found.of,
        "low": found.interval.low,
        "high": found.interval.high,
        "probability": found.probability,
        "in_time": found.in_time,
        "runs": progress.evidence.get("runs", 0),
        "robot": progress.evidence.get("robot"),
        "calibration": progress.evidence.get("calibration"),
    }


def _fold(rule: Rule) -> list[float]:
    """What of a rule goes into the summary itself; the rest is only read by."""
    return [rule.stale_keep, rule.window]


def _is_later(newest: Attempt, progress: Progress) -> bool:
    return progress.last_run_at is None or min(newest.made_at, newest.received_at) > progress.last_run_at


def _one_more(
    kept: dict[str, Any], newest: Attempt, rule: Rule, zone: ZoneInfo, marked_at: dt.datetime | None
) -> tuple[Evidence, dict[str, Any]]:
    before, run = Evidence.from_dict(kept), _plain(newest, zone)
    moments = [newest.robot.changed_at if newest.robot else None, marked_at]
    last = Attempt(robot_id=kept.get("robot"), calibration_id=kept.get("calibration"))
    if _other_numbers(last, newest, _generations([(last, newest)] if _other_calibration(last, newest) else ())):
        moments.append(run.at)
    changed = _latest(*(moment for moment in moments if moment is not None and moment <= run.at))
    extras = {"fold": kept["fold"], "best_s": kept["best_s"], "last": kept["last"]}
    return update(before, run, rule, changed), extras | _extras(extras, newest)


def _plain(row: Attempt, zone: ZoneInfo) -> CountedRun:
    """A run cannot have been made after it was received, whatever the tablet's clock said."""
    at = min(row.made_at, row.received_at).astimezone(zone)
    met = all(row.outcomes.values())
    return CountedRun(row.success, at, row.duration_s if met else None, row.cause)


def _other_calibration(before: Attempt, row: Attempt) -> bool:
    return before.robot_id == row.robot_id and before.calibration_id != row.calibration_id


def _other_numbers(before: Attempt, row: Attempt, generations: Mapping[int, int]) -> bool:
    """Another robot, or another calibration that did not just confirm what was known."""
    if before.robot_id != row.robot_id:
        return True
    numbers = [generations.get(pk, 0) if pk else 0 for pk in (before.calibration_id, row.calibration_id)]
    return _other_calibration(before, row) and numbers[0] != numbers[1]


def _generations(pairs: Iterable[tuple[Attempt, Attempt]]) -> Mapping[int, int]:
    """Of the calibrations of the robots of these runs; asks nothing when there are none."""
    robots = {row.robot_id for _, row in pairs if row.robot_id is not None}
    return Calibration.objects.generations(robots) if robots else {}


def _latest(*moments: dt.datetime | None) -> dt.datetime | None:
    return max((moment for moment in moments if moment is not None), default=None)


def _extras(extras: dict[str, Any], row: Attempt) -> dict[str, Any]:
    times = [t for t in (extras["best_s"], row.duration_s if all(row.outcomes.values()) else None) if t is not None]
    last = extras["last"]
    if row.robot_id is not None and row.plan_number is not None:
        said = SaidRun(row.made_at.timestamp(), row.pk, row.success, *row.miss_at_first)
        last = keep_run(last, row.robot_id, said)
    return {
        "best_s": min(times, default=None),
        "last": last,
        "robot": row.robot_id,
        "calibration": row.calibration_id,
    }
