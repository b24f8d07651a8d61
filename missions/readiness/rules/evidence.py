"""The evidence of a team's runs in a tier, and the rule that a coach reads it by.

Pure, on plain values. ``Evidence`` is a summary that one more run updates at a cost that does not grow with the
history; ``readiness.answer`` reads it.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, fields, replace
from datetime import date, datetime
from enum import StrEnum
from typing import Any

from missions.errors import MissionsCode
from motion.chance.intervals import discount

PRIOR = (1.0, 1.0)
MOST_DATES = 12


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
    forget
        What is kept of older evidence at each run; 1 forgets nothing.
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
        What is kept of the evidence from before such a change.
    time_limit_s, time_confidence
        Timed tiers: the next run beats the limit with at least this probability.
    stuck_runs
        After so many runs a team that is almost surely under the target, and not improving, is stuck.
    same_misses
        So many failures in a row with one cause.
    quiet_days
        A working team without a run for so many days has gone quiet.
    """

    target: float = 0.65
    confidence: float = 0.85
    forget: float = 0.93
    clean_runs: int = 8
    clean_of: int = 10
    dates: int = 2
    least_runs: int = 5
    window: int = 10
    fresh_runs: int = 3
    stale_keep: float = 0.5
    time_limit_s: float | None = None
    time_confidence: float = 0.8
    stuck_runs: int = 12
    same_misses: int = 3
    quiet_days: int = 15

    def __post_init__(self) -> None:
        for name in ("target", "confidence", "forget", "stale_keep", "time_confidence"):
            value = getattr(self, name)
            if not (isinstance(value, (int, float)) and math.isfinite(value) and 0.0 <= value <= 1.0):
                raise ReadinessError(MissionsCode.BAD_RULE, f"“{name}” is a probability from 0 to 1.")
        for name in ("clean_runs", "dates", "least_runs", "fresh_runs", "same_misses"):
            value = getattr(self, name)
            if not (isinstance(value, int) and 0 <= value <= 50):
                raise ReadinessError(MissionsCode.BAD_RULE, f"“{name}” is a whole number from 0 to 50.")
        for name in ("clean_of", "window", "stuck_runs", "quiet_days"):
            value = getattr(self, name)
            if not (isinstance(value, int) and 1 <= value <= 400):
                raise ReadinessError(MissionsCode.BAD_RULE, f"“{name}” is a whole number from 1 to 400.")
        if self.clean_runs > self.clean_of or self.clean_of > self.window:
            raise ReadinessError(
                MissionsCode.BAD_RULE,
                "Clean runs are counted among the last runs of the strip; lengthen the strip or ask for fewer.",
            )
        if self.time_limit_s is not None and not (math.isfinite(self.time_limit_s) and self.time_limit_s > 0):
            raise ReadinessError(MissionsCode.BAD_RULE, "A time limit is a positive number of seconds.")

    @classmethod
    def of(cls, *changes: Mapping[str, Any]) -> Rule:
        """The default rule with what a club and then a tier changes in it.

        Raises
        ------
        ReadinessError
            ``unknown_key`` or ``bad_rule``.
        """
        known = {field.name for field in fields(cls)}
        merged: dict[str, Any] = {}
        for change in changes:
            unknown = sorted(set(change) - known)
            if unknown:
                raise ReadinessError(MissionsCode.UNKNOWN_KEY, f"A readiness rule has no “{unknown[0]}”.")
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
    a, b
        The discounted Beta.
    runs
        All runs ever.
    since_change
        Runs since the robot or its calibration last changed.
    strip
        The last runs, oldest first.
    dates
        The last different dates, oldest first.
    """

    a: float = PRIOR[0]
    b: float = PRIOR[1]
    runs: int = 0
    since_change: int = 0
    strip: tuple[CountedRun, ...] = ()
    dates: tuple[date, ...] = ()

    @property
    def last_at(self) -> datetime | None:
        return self.strip[-1].at if self.strip else None

    def as_dict(self) -> dict[str, Any]:
        """For a JSON column."""
        strip = [[run.success, run.at.isoformat(), run.duration_s, run.cause] for run in self.strip]
        return {
            "a": self.a,
            "b": self.b,
            "runs": self.runs,
            "since_change": self.since_change,
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
            return cls(
                float(kept["a"]),
                float(kept["b"]),
                int(kept["runs"]),
                int(kept["since_change"]),
                tuple(CountedRun(bool(s), datetime.fromisoformat(at), d, cause) for s, at, d, cause in kept["strip"]),
                tuple(date.fromisoformat(day) for day in kept["dates"]),
            )
        except (KeyError, TypeError, ValueError) as error:
            raise ReadinessError(
                MissionsCode.BAD_EVIDENCE, "The kept evidence cannot be read; rebuild it from the runs."
            ) from error


def update(evidence: Evidence, run: CountedRun, rule: Rule, changed_at: datetime | None = None) -> Evidence:
    """One run later.

    Parameters
    ----------
    evidence, run, rule
        The run comes after all runs that the evidence holds.
    changed_at
        When the robot or its calibration last changed before this run; evidence from before it fades.

    Raises
    ------
    ReadinessError
        ``out_of_order``: the run is older than the newest one; rebuild with ``gather``.
    """
    last = evidence.last_at
    if last is not None and run.at < last:
        raise ReadinessError(MissionsCode.OUT_OF_ORDER, "This run is older than the newest one; rebuild the evidence.")
    if run.duration_s is not None and not (math.isfinite(run.duration_s) and run.duration_s > 0):
        run = replace(run, duration_s=None)
    a, b, since = evidence.a, evidence.b, evidence.since_change
    if last is not None and changed_at is not None and last < changed_at <= run.at:
        a, b = (
            rule.stale_keep * kept + (1.0 - rule.stale_keep) * start for kept, start in zip((a, b), PRIOR, strict=True)
        )
        since = 0
    a, b = discount(a, b, run.success, rule.forget, PRIOR)
    day = run.at.date()
    dates = evidence.dates if day in evidence.dates else (*evidence.dates, day)[-MOST_DATES:]
    return Evidence(a, b, evidence.runs + 1, since + 1, (*evidence.strip, run)[-rule.window :], dates)


def gather(runs: Iterable[CountedRun], rule: Rule, changes: Iterable[datetime] = ()) -> Evidence:
    """The evidence of a whole history, in any order.

    ``changes`` are the times at which the robot or its calibration changed.
    """
    moments = sorted(changes)
    evidence = Evidence()
    for run in sorted(runs, key=lambda one: one.at):
        before = [moment for moment in moments if moment <= run.at]
        evidence = update(evidence, run, rule, before[-1] if before else None)
    return evidence
