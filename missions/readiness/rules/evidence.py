"""The evidence of a team's runs in a tier, and the rule that a coach reads it by.

Pure, on plain values. ``Evidence`` is a summary that one more run updates at a cost that does not grow with the
history; ``readiness.answer`` reads it.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, fields, replace
from datetime import date, datetime
from enum import StrEnum
from typing import Any

from django.utils.translation import gettext as _

from classroom.site.isolated import isolated
from missions.errors import MissionsCode
from missions.readiness.rules.belief import CELLS, Belief, Today, after_change, after_run, no_runs

MOST_DATES = 12
#: So many runs since the last change are kept one by one; more would lengthen what is stored without end.
MOST_HISTORY = 200


class ReadinessError(ValueError):
    """A rule or a summary that makes no sense; ``code`` and a sentence."""

    def __init__(self, code: StrEnum, message: str) -> None:
        super().__init__(message)
        self.code = code
        self.message = message


@dataclass(frozen=True)
class Rule:
    """What a coach asks for before a team counts as ready.

    Attributes
    ----------
    target, confidence
        The probability that the true success rate is over ``target`` is at least ``confidence``.
    clean_runs, clean_of
        So many successes among the last so many runs.
    dates
        Evidence from at least so many dates.
    least_runs
        Fewer are "too few to tell".
    window
        Length of the strip: "8 of the last 10".
    fresh_runs
        Runs wanted after the robot or its calibration has changed.
    stale_keep
        What is kept of the evidence from before such a change: the chance that it still holds.
    time_limit_s, time_confidence
        Timed tiers: the next run beats the limit with at least this probability.
    stuck_runs
        After so many runs since the last change, and never fewer than ``answer.LEAST_TO_CALL_STUCK``, a team that is
        almost surely under the target and shows no rise is stuck.
    same_misses
        So many failures in a row with one cause.
    quiet_days
        A working team without a run for so many days has gone quiet.
    """

    target: float = 0.65
    confidence: float = 0.9
    clean_runs: int = 10
    clean_of: int = 12
    dates: int = 2
    least_runs: int = 5
    window: int = 12
    fresh_runs: int = 3
    stale_keep: float = 0.5
    time_limit_s: float | None = None
    time_confidence: float = 0.8
    stuck_runs: int = 18
    same_misses: int = 3
    quiet_days: int = 15

    def __post_init__(self) -> None:
        for name in ("target", "confidence", "stale_keep", "time_confidence"):
            value = getattr(self, name)
            if not (isinstance(value, (int, float)) and math.isfinite(value) and 0.0 <= value <= 1.0):
                raise ReadinessError(
                    MissionsCode.BAD_RULE, _("“%(name)s” is a probability from 0 to 1.") % {"name": isolated(name)}
                )
        for name in ("clean_runs", "dates", "least_runs", "fresh_runs", "same_misses"):
            value = getattr(self, name)
            if not (isinstance(value, int) and 0 <= value <= 50):
                raise ReadinessError(
                    MissionsCode.BAD_RULE, _("“%(name)s” is a whole number from 0 to 50.") % {"name": isolated(name)}
                )
        for name in ("clean_of", "window", "stuck_runs", "quiet_days"):
            value = getattr(self, name)
            if not (isinstance(value, int) and 1 <= value <= 400):
                raise ReadinessError(
                    MissionsCode.BAD_RULE, _("“%(name)s” is a whole number from 1 to 400.") % {"name": isolated(name)}
                )
        if self.clean_runs > self.clean_of or self.clean_of > self.window:
            raise ReadinessError(
                MissionsCode.BAD_RULE,
                _("Clean runs are counted among the last runs of the strip; lengthen the strip or ask for fewer."),
            )
        if self.time_limit_s is not None and not (math.isfinite(self.time_limit_s) and self.time_limit_s > 0):
            raise ReadinessError(MissionsCode.BAD_RULE, _("A time limit is a positive number of seconds."))

    @classmethod
    def of(cls, *changes: Mapping[str, Any]) -> Rule:
        """The default rule with what a club and then a tier changes in it.

        Raises
        ------
        ReadinessError
            ``unknown_key`` or ``bad_rule``.
        """
        known = {one.name for one in fields(cls)}
        merged: dict[str, Any] = {}
        for change in changes:
            unknown = sorted(set(change) - known)
            if unknown:
                raise ReadinessError(
                    MissionsCode.UNKNOWN_KEY, _("A readiness rule has no “%(unknown)s”.") % {"unknown": unknown[0]}
                )
            merged.update(change)
        return cls(**merged)


@dataclass(frozen=True)
class CountedRun:
    """One logged run.

    ``at`` is in the club's time zone, so that its date is the club's date. ``duration_s`` only where the time means
    something: every criterion but the time was met. ``cause`` is the first cause of a failure, such as
    ``"turned_too_far"``; empty or ``"other"`` says nothing.
    """

    success: bool
    at: datetime
    duration_s: float | None = None
    cause: str = ""


@dataclass(frozen=True)
class Evidence:
    """What is kept of a team's runs in a tier.

    Attributes
    ----------
    belief
        What the runs say of the true success rate.
    today
        The runs of the newest run's date, as far as the belief holds them.
    runs
        All runs ever.
    since_change
        Runs since the robot, its calibration or anything else last changed.
    history
        Those runs, oldest first: "1" for a clean one, else "0"; the last ``MOST_HISTORY`` of them.
    strip
        The last runs, oldest first.
    dates
        The last different dates, oldest first.
    """

    belief: Belief = field(default_factory=no_runs)
    today: Today = field(default_factory=Today)
    runs: int = 0
    since_change: int = 0
    history: str = ""
    strip: tuple[CountedRun, ...] = ()
    dates: tuple[date, ...] = ()

    @property
    def last_at(self) -> datetime | None:
        return self.strip[-1].at if self.strip else None

    def as_dict(self) -> dict[str, Any]:
        """For a JSON column."""
        strip = [[run.success, run.at.isoformat(), run.duration_s, run.cause] for run in self.strip]
        return {
            "belief": list(self.belief),
            "today": list(self.today),
            "runs": self.runs,
            "since_change": self.since_change,
            "history": self.history,
            "strip": strip,
            "dates": [day.isoformat() for day in self.dates],
        }

    @classmethod
    def from_dict(cls, kept: Mapping[str, Any]) -> Evidence:
        """From a JSON column; an empty one is no evidence yet.

        Raises
        ------
        ReadinessError
            ``bad_evidence``: rebuild it from the runs.
        """
        if not kept:
            return cls()
        try:
            belief = tuple(map(float, kept["belief"]))
            if len(belief) != CELLS:
                raise ValueError
            return cls(
                belief,
                Today(*map(int, kept["today"])),
                int(kept["runs"]),
                int(kept["since_change"]),
                str(kept["history"]),
                tuple(CountedRun(bool(s), datetime.fromisoformat(at), d, cause) for s, at, d, cause in kept["strip"]),
                tuple(date.fromisoformat(day) for day in kept["dates"]),
            )
        except (KeyError, TypeError, ValueError) as error:
            raise ReadinessError(
                MissionsCode.BAD_EVIDENCE, _("The kept evidence cannot be read; rebuild it from the runs.")
            ) from error


def update(evidence: Evidence, run: CountedRun, rule: Rule, changed_at: datetime | None = None) -> Evidence:
    """One run later.

    Parameters
    ----------
    evidence, run, rule
        The run comes after all runs that the evidence holds.
    changed_at
        When anything last changed before this run: the robot, its calibration, the program; evidence from before it fades.

    Raises
    ------
    ReadinessError
        ``out_of_order``: the run is older than the newest one; rebuild with ``gather``.
    """
    last = evidence.last_at
    if last is not None and run.at < last:
        raise ReadinessError(
            MissionsCode.OUT_OF_ORDER, _("This run is older than the newest one; rebuild the evidence.")
        )
    if run.duration_s is not None and not (math.isfinite(run.duration_s) and run.duration_s > 0):
        run = replace(run, duration_s=None)
    belief, today, since, history = evidence.belief, evidence.today, evidence.since_change, evidence.history
    day = run.at.date()
    if last is not None and changed_at is not None and last < changed_at <= run.at:
        belief, today, since, history = after_change(belief, rule.stale_keep), Today(), 0, ""
    if last is None or last.date() != day:
        today = Today()
    return Evidence(
        belief=after_run(belief, run.success, today, is_first=last is None),
        today=Today(today.clean + run.success, today.runs + 1),
        runs=evidence.runs + 1,
        since_change=since + 1,
        history=(history + ("1" if run.success else "0"))[-MOST_HISTORY:],
        strip=(*evidence.strip, run)[-rule.window :],
        dates=evidence.dates if day in evidence.dates else (*evidence.dates, day)[-MOST_DATES:],
    )


def gather(runs: Iterable[CountedRun], rule: Rule, changes: Iterable[datetime] = ()) -> Evidence:
    """The evidence of a whole history, in any order.

    ``changes`` are the times at which the robot, its calibration or anything else changed.
    """
    moments = sorted(changes)
    evidence = Evidence()
    for run in sorted(runs, key=lambda one: one.at):
        before = [moment for moment in moments if moment <= run.at]
        evidence = update(evidence, run, rule, before[-1] if before else None)
    return evidence
