"""Is a team ready for the harder tier? A criterion on evidence, never a rank.

Pure rules on plain values; ``evidence.py`` has what they are read from. The rule is looked at after every run, which
makes it a sequential test: how often it is wrong over a term is simulated in ``benchmarks/honest_rule.py``, and the
defaults were chosen by that.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache

from django.utils.translation import gettext as _
from scipy import special

from missions.readiness.rules.belief import Belief, Today, chance_over, chances_over_if_clean, rates_at
from missions.readiness.rules.evidence import Evidence, Rule
from motion.chance.intervals import Interval, beta_above, later_better
from motion.units import figure

#: Stuck is said of the whole record since the last change, never of fewer runs than these, and of the last so many.
LEAST_TO_CALL_STUCK, STUCK_OF_LAST = 18, 24
#: Chance under which "over the target" is ruled out for a team that is called stuck.
ALMOST_NEVER = 0.005
#: Probability that the later half of the record is better from which on a rise may be there.
MAY_RISE = 0.7
#: Of a per cent: what arithmetic may add or take.
_ROUNDING = 1e-6
#: Probability that the later half of the strip is worse before slipping is said.
ALMOST_SURELY = 0.95


@dataclass(frozen=True)
class ReadinessAnswer:
    """What the rule says.

    Attributes
    ----------
    code
        ``"too_few"``, ``"working"``, ``"ready"`` or ``"look"`` (needs a look).
    kind
        For ``"look"``: ``"stuck"``, ``"slipping_back"``, ``"same_miss"``, ``"gone_quiet"``; for ``"too_few"``:
        ``"stale"`` or empty.
    why, need
        One sentence each: why, and what would change it.
    successes, of, interval
        "8 of the last 10", and where the true success rate lies by all that is known: as sure as the rule asks that it
        is over the low end, and as sure that it is under the high one. So the low end is over the target just when the
        rule is sure enough.
    probability
        That the true success rate is over the target.
    clean_needed
        How many more clean runs in a row would make the team ready; None when over 20.
    in_time
        Predicted probability that the next run beats the limit; None when untimed or unknown.
    """

    code: str
    kind: str
    why: str
    need: str
    successes: int
    of: int
    interval: Interval
    probability: float
    clean_needed: int | None
    in_time: float | None = None

    @property
    def word(self) -> str:
        """The state as the board says it."""
        words = {
            "too_few": _("Too few runs to tell"),
            "working": _("Working"),
            "ready": _("Ready"),
            "look": _("Needs a look"),
        }
        return words[self.code]


def answer(evidence: Evidence, rule: Rule, now: datetime, changed_at: datetime | None = None) -> ReadinessAnswer:
    """What the evidence says now.

    Parameters
    ----------
    evidence, rule
        As kept by ``update`` with the same rule.
    now
        In the club's time zone.
    changed_at
        When anything last changed, if it did: the robot, its calibration, the program.
    """
    successes, of = sum(run.success for run in evidence.strip), len(evidence.strip)
    probability = chance_over(evidence.belief, rule.target)
    in_time = chance_in_time([run.duration_s for run in evidence.strip], rule.time_limit_s)
    needed = clean_runs_needed(evidence, rule)
    interval = true_rate(evidence, rule)
    count = _count_in_words(successes, of, interval)
    code, kind, why, need = _judge(evidence, rule, now, changed_at, count, probability, in_time, needed)
    return ReadinessAnswer(code, kind, why, need, successes, of, interval, probability, needed, in_time)


def true_rate(evidence: Evidence, rule: Rule) -> Interval:
    """Where the true success rate lies, each end as surely as the rule asks."""
    low, high = rates_at(evidence.belief, 1.0 - rule.confidence, rule.confidence)
    return Interval(low, max(low, high))


def count_in_words(evidence: Evidence, rule: Rule) -> str:
    """ "8 of the last 10 (49 to 94 %)": never a bare percentage."""
    successes = sum(run.success for run in evidence.strip)
    return _count_in_words(successes, len(evidence.strip), true_rate(evidence, rule))


def _count_in_words(successes: int, of: int, interval: Interval) -> str:
    if not of:
        return "no runs yet"
    low, high = whole_per_cents(interval)
    return f"{successes} of the last {of} ({low} to {high} %)"


def whole_per_cents(interval: Interval) -> tuple[int, int]:
    """Rounded outwards: what is drawn and written is never narrower than what is known."""
    return math.floor(100.0 * interval.low + _ROUNDING), math.ceil(100.0 * interval.high - _ROUNDING)


def chance_in_time(durations: Iterable[float | None], limit_s: float | None) -> float | None:
    """Probability that the next run beats the limit, durations being log-normal with mean and spread unknown.

    The predictive distribution of the next logarithm is Student's t with n - 1 degrees of freedom about the mean,
    scaled by s sqrt(1 + 1/n) (Gelman et al., Bayesian Data Analysis, section 3.2, from memory). None under three
    durations.
    """
    logs = [math.log(seconds) for seconds in durations if seconds is not None and seconds > 0]
    n = len(logs)
    if limit_s is None or n < 3:
        return None
    mean = math.fsum(logs) / n
    spread = math.sqrt(math.fsum((value - mean) ** 2 for value in logs) / (n - 1))
    distance = math.log(limit_s) - mean
    if spread == 0.0:
        return 1.0 if distance >= 0 else 0.0
    return float(special.stdtr(n - 1, distance / (spread * math.sqrt(1.0 + 1.0 / n))))


def clean_runs_needed(evidence: Evidence, rule: Rule, most: int = 20) -> int | None:
    """How many more successes in a row would show it; 0 when it is shown, None when over ``most``.

    It is shown by the probability and the clean runs, without dates, freshness and time. Counted as runs of the newest run's
    date, of which more are needed than of another: so many are enough on any day.
    """
    recent = tuple(run.success for run in evidence.strip[-rule.clean_of :])
    return _clean_runs_needed(recent, evidence.runs, evidence.belief, evidence.today, rule, most)


@lru_cache(maxsize=4096)
def _clean_runs_needed(
    recent: tuple[bool, ...], runs: int, belief: Belief, today: Today, rule: Rule, most: int
) -> int | None:
    sure = chances_over_if_clean(belief, rule.target, today, most, is_first=runs == 0)
    for more in range(most + 1):
        clean = sum(recent[-rule.clean_of :]) >= rule.clean_runs
        if clean and runs + more >= rule.least_runs and sure[more] >= rule.confidence:
            return more
        recent = (*recent, True)
    return None


Finding = tuple[str, str, str, str]


def _judge(
    evidence: Evidence,
    rule: Rule,
    now: datetime,
    changed_at: datetime | None,
    count: str,
    probability: float,
    in_time: float | None,
    needed: int | None,
) -> Finding:
    """(code, kind, why, need), the first that applies."""
    last = evidence.last_at
    if last is None:
        return "too_few", "", "No runs yet.", f"Log the first of at least {_runs(rule.least_runs)}."
    quiet = (now.date() - last.date()).days
    if quiet >= rule.quiet_days:
        why = f"No run for {quiet} days; before that {count} were clean."
        return "look", "gone_quiet", why, "Ask the team what keeps it from running, and log one run."
    if changed_at is not None and changed_at > last:
        why = f"Something has changed since the last run: the robot, its numbers or the program. Before that {count} were clean."
        return "too_few", "stale", why, f"Log {_runs(max(rule.fresh_runs, 1))} as things are now."
    if evidence.runs < rule.least_runs:
        more = rule.least_runs - evidence.runs
        return "too_few", "", f"Only {_runs(evidence.runs)}: {count} clean.", f"Log {_runs(more)} more."
    return _trouble(evidence, rule, count) or _progress(evidence, rule, count, probability, in_time, needed)


def _trouble(evidence: Evidence, rule: Rule, count: str) -> Finding | None:
    early, late = _halves(evidence)
    if later_better(late, early) >= ALMOST_SURELY and early[0] / early[1] >= rule.target:
        why = f"It went from {early[0]} of {early[1]} to {late[0]} of the last {late[1]} clean."
        return "look", "slipping_back", why, "Look at what changed: battery, tyres, the table, the program."
    cause = _repeated_cause(evidence, rule)
    if cause:
        why = f"The last {_misses(rule.same_misses)} had one cause: {cause}. {count[0].upper()}{count[1:]} clean."
        return "look", "same_miss", why, "Change one thing that answers this cause, then run again."
    if is_stuck(evidence.history, rule):
        why = f"{_since_change(evidence)}: {count} are clean, and no rise is shown yet."
        return "look", "stuck", why, "Sit with the team: measure again, simplify the course, or calibrate the robot."
    return None


def is_stuck(history: str, rule: Rule) -> bool:
    """Whether a whole record ("1" for a clean run) is almost surely under the target and shows no rise.

    That no rise is shown does not say that there is none: the later half has to be clearly better before it counts as one.
    """
    runs = len(history)
    if runs < max(rule.stuck_runs, LEAST_TO_CALL_STUCK):
        return False
    last = history[-STUCK_OF_LAST:]
    clean = last.count("1")
    if beta_above(clean + 1, len(last) - clean + 1, rule.target) > ALMOST_NEVER:
        return False
    early, late = history[: runs // 2], history[runs // 2 :]
    return later_better((early.count("1"), len(early)), (late.count("1"), len(late))) < MAY_RISE


def _since_change(evidence: Evidence) -> str:
    since = " since the last change" if evidence.since_change < evidence.runs else ""
    return f"{_runs(evidence.since_change)}{since}"


def _halves(evidence: Evidence) -> tuple[tuple[int, int], tuple[int, int]]:
    """(successes, runs) of the earlier and the later half of the strip."""
    middle = len(evidence.strip) // 2
    early, late = evidence.strip[:middle], evidence.strip[middle:]
    return (sum(run.success for run in early), len(early)), (sum(run.success for run in late), len(late))


def _repeated_cause(evidence: Evidence, rule: Rule) -> str:
    """The one cause of the last failures, when the latest run failed too; else empty."""
    failures = [run.cause for run in evidence.strip if not run.success]
    last = failures[-rule.same_misses :] if rule.same_misses else []
    if not last or evidence.strip[-1].success or len(last) < rule.same_misses:
        return ""
    same = set(last)
    cause = same.pop()
    return "" if same or cause in ("", "other") else cause.replace("_", " ")


def _progress(
    evidence: Evidence, rule: Rule, count: str, probability: float, in_time: float | None, needed: int | None
) -> Finding:
    missing = []
    if needed != 0:
        missing.append(
            "a longer spell of clean runs: over 20 in a row"
            if needed is None
            else f"{needed} more clean {'run' if needed == 1 else 'runs'} in a row"
        )
    if len(evidence.dates) < rule.dates:
        more = rule.dates - len(evidence.dates)
        missing.append(f"runs on {more} more {'date' if more == 1 else 'dates'}")
    if evidence.since_change < rule.fresh_runs and evidence.since_change < evidence.runs:
        missing.append(f"{_runs(rule.fresh_runs - evidence.since_change)} more since the last change")
    if rule.time_limit_s is not None and (in_time is None or in_time < rule.time_confidence):
        missing.append(_time_missing(evidence, rule.time_limit_s, in_time))
    sure = f"{chance_in_words(probability)} chance that it runs clean over {figure(100 * rule.target)} % of the time"
    why = f"{count[0].upper()}{count[1:]} clean: {sure}"
    if not missing:
        if in_time is not None:
            why += f", and {times_in_words(evidence, rule.time_limit_s)}"
        return "ready", "", why + ".", "A coach opens the next tier; more misses would take this back."
    return "working", "", why + ".", f"Ready would take {_listed(missing)}."


def _time_missing(evidence: Evidence, limit_s: float, in_time: float | None) -> str:
    """What was seen, and not a chance made of a few times."""
    if in_time is None:
        return "at least three timed runs"
    times = _times(evidence)
    close = ", by too little to be sure of the next one" if all(time <= limit_s for time in times) else ""
    return f"faster or steadier times: so far {times_in_words(evidence, limit_s)}{close}"


def times_in_words(evidence: Evidence, limit_s: float | None) -> str:
    """ "5 of 5 runs beat 26 s", of the last that met every criterion; empty where none was timed."""
    times = _times(evidence)
    if limit_s is None or not times:
        return ""
    beat = sum(time <= limit_s for time in times)
    return f"{beat} of {len(times)} {'run' if len(times) == 1 else 'runs'} beat {limit_s:g} s"


def _times(evidence: Evidence) -> list[float]:
    return [run.duration_s for run in evidence.strip if run.duration_s is not None]


def chance_in_words(probability: float) -> str:
    """In whole per cents, rounded down, so that what is asked for is never written where it is not reached."""
    percent = math.floor(100.0 * probability + _ROUNDING)
    if percent >= 99:
        return "over 99 %" if probability > 0.99 else "99 %"
    return f"{percent} %" if percent else "under 1 %"


def _listed(parts: list[str]) -> str:
    return parts[0] if len(parts) == 1 else ", ".join(parts[:-1]) + " and " + parts[-1]


def _runs(count: int) -> str:
    return f"{count} run" if count == 1 else f"{count} runs"


def _misses(count: int) -> str:
    return "miss" if count == 1 else f"{count} misses"
