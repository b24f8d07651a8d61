"""Is a team ready for the harder tier? A criterion on evidence, never a rank.

Pure rules on plain values; ``evidence.py`` has what they are read from. The rule is looked at after every run, which
makes it a sequential test: how often it is wrong over a term is simulated in ``benchmarks/coach_rule.py``, and the
defaults were chosen by that.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from scipy import special

from missions.readiness.rules.evidence import PRIOR, Evidence, Rule
from motion.chance.intervals import Interval, beta_above, discount, later_better, wilson
from motion.units import figure

#: Chance under which "over the target" is ruled out for a team that is called stuck.
ALMOST_NEVER = 0.05
#: Probability that the later half of the strip is worse (or better) before slipping (or improving) is said.
ALMOST_SURELY = 0.95
LIKELY = 0.85


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
        "8 of the last 10" and its Wilson interval at 95 %.
    probability
        That the true success rate is over the target.
    clean_needed
        How many clean runs in a row would make the team ready; None when over 20.
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
        return {"too_few": "Too few runs to tell", "working": "Working", "ready": "Ready", "look": "Needs a look"}[
            self.code
        ]


def answer(evidence: Evidence, rule: Rule, now: datetime, changed_at: datetime | None = None) -> ReadinessAnswer:
    """What the evidence says now.

    Parameters
    ----------
    evidence, rule
        As kept by ``update`` with the same rule.
    now
        In the club's time zone.
    changed_at
        When the robot or its calibration last changed, if it did.
    """
    successes, of = sum(run.success for run in evidence.strip), len(evidence.strip)
    probability = beta_above(evidence.a, evidence.b, rule.target)
    in_time = chance_in_time([run.duration_s for run in evidence.strip], rule.time_limit_s)
    needed = clean_runs_needed(evidence, rule)
    code, kind, why, need = _judge(evidence, rule, now, changed_at, probability, in_time, needed)
    return ReadinessAnswer(code, kind, why, need, successes, of, wilson(successes, of), probability, needed, in_time)


def count_in_words(successes: int, of: int) -> str:
    """ "8 of the last 10 (49 to 94 %)": never a bare percentage."""
    if of == 0:
        return "no runs yet"
    low, high = wilson(successes, of)
    return f"{successes} of the last {of} ({figure(100 * low)} to {figure(100 * high)} %)"


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


def shown(evidence: Evidence, rule: Rule) -> bool:
    """Whether success itself is shown: the probability and the clean runs, without dates, freshness and time."""
    clean = sum(run.success for run in evidence.strip[-rule.clean_of :])
    return (
        evidence.runs >= rule.least_runs
        and clean >= rule.clean_runs
        and beta_above(evidence.a, evidence.b, rule.target) >= rule.confidence
    )


def clean_runs_needed(evidence: Evidence, rule: Rule, most: int = 20) -> int | None:
    """How many successes in a row would show it; 0 when it is shown, None when over ``most``."""
    recent = [run.success for run in evidence.strip[-rule.clean_of :]]
    a, b = evidence.a, evidence.b
    for more in range(most + 1):
        clean = sum(recent[-rule.clean_of :]) >= rule.clean_runs
        if clean and evidence.runs + more >= rule.least_runs and beta_above(a, b, rule.target) >= rule.confidence:
            return more
        a, b = discount(a, b, True, rule.forget, PRIOR)
        recent.append(True)
    return None


Finding = tuple[str, str, str, str]


def _judge(
    evidence: Evidence,
    rule: Rule,
    now: datetime,
    changed_at: datetime | None,
    probability: float,
    in_time: float | None,
    needed: int | None,
) -> Finding:
    """(code, kind, why, need), the first that applies."""
    last = evidence.last_at
    if last is None:
        return "too_few", "", "No runs yet.", f"Log the first of at least {_runs(rule.least_runs)}."
    count = count_in_words(sum(run.success for run in evidence.strip), len(evidence.strip))
    quiet = (now.date() - last.date()).days
    if quiet >= rule.quiet_days:
        why = f"No run for {quiet} days; before that {count} were clean."
        return "look", "gone_quiet", why, "Ask the team what keeps it from running, and log one run."
    if changed_at is not None and changed_at > last:
        why = f"The robot or its calibration has changed since the last run; before that {count} were clean."
        return "too_few", "stale", why, f"Log {_runs(max(rule.fresh_runs, 1))} with the robot as it is now."
    if evidence.runs < rule.least_runs:
        more = rule.least_runs - evidence.runs
        return "too_few", "", f"Only {_runs(evidence.runs)}: {count} clean.", f"Log {_runs(more)} more."
    return _trouble(evidence, rule, count, probability) or _progress(
        evidence, rule, count, probability, in_time, needed
    )


def _trouble(evidence: Evidence, rule: Rule, count: str, probability: float) -> Finding | None:
    early, late = _halves(evidence)
    if later_better(late, early) >= ALMOST_SURELY and early[0] / early[1] >= rule.target:
        why = f"It went from {early[0]} of {early[1]} to {late[0]} of the last {late[1]} clean."
        return "look", "slipping_back", why, "Look at what changed: battery, tyres, the table, the program."
    cause = _repeated_cause(evidence, rule)
    if cause:
        why = f"The last {_misses(rule.same_misses)} had one cause: {cause}. {count[0].upper()}{count[1:]} clean."
        return "look", "same_miss", why, "Change one thing that answers this cause, then run again."
    improving = later_better(early, late) >= LIKELY
    if evidence.runs >= rule.stuck_runs and probability <= ALMOST_NEVER and not improving:
        why = f"After {_runs(evidence.runs)} {count} are clean and it is not rising."
        return "look", "stuck", why, "Sit with the team: measure again, simplify the course, or calibrate the robot."
    return None


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
    if not shown(evidence, rule):
        missing.append(
            "a longer spell of clean runs: over 20 in a row"
            if needed is None
            else f"{needed} clean {'run' if needed == 1 else 'runs'} in a row"
        )
    if len(evidence.dates) < rule.dates:
        more = rule.dates - len(evidence.dates)
        missing.append(f"runs on {more} more {'date' if more == 1 else 'dates'}")
    if evidence.since_change < rule.fresh_runs and evidence.since_change < evidence.runs:
        missing.append(f"{_runs(rule.fresh_runs - evidence.since_change)} more since the robot's last change")
    if rule.time_limit_s is not None and (in_time is None or in_time < rule.time_confidence):
        missing.append(_time_missing(rule, in_time))
    sure = f"{_chance(probability)} chance that the true rate is over {figure(100 * rule.target)} %"
    why = f"{count[0].upper()}{count[1:]} clean: {sure}"
    if not missing:
        if in_time is not None:
            why += f", and {_chance(in_time)} that the next run beats {rule.time_limit_s:g} s"
        return "ready", "", why + ".", "A coach opens the next tier; more misses would take this back."
    return "working", "", why + ".", f"Ready would take {_listed(missing)}."


def _time_missing(rule: Rule, in_time: float | None) -> str:
    if in_time is None:
        return "at least three timed runs"
    return (
        f"faster or steadier times: now {_chance(in_time)} to beat {rule.time_limit_s:g} s, "
        f"asked {_chance(rule.time_confidence)}"
    )


def _chance(probability: float) -> str:
    percent = 100.0 * probability
    if percent > 99.0:
        return "over 99 %"
    return "under 1 %" if percent < 1.0 else f"{figure(percent)} %"


def _listed(parts: list[str]) -> str:
    return parts[0] if len(parts) == 1 else ", ".join(parts[:-1]) + " and " + parts[-1]


def _runs(count: int) -> str:
    return f"{count} run" if count == 1 else f"{count} runs"


def _misses(count: int) -> str:
    return "miss" if count == 1 else f"{count} misses"
