"""What a team expected of a run beside what came, and whether the change that it tries helped."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from classroom.robots.robot_at import robots_at
from classroom.site.figures import in_own_digits
from missions.models import Attempt
from missions.runs.rules.did_it_help import did_it_help
from missions.runs.rules.side_words import side_in_words
from missions.runs.what_changed import off_mm
from motion.units import in_digits, side_word
from planning.courses.plan_today import plan_today
from planning.models import Course
from planning.preparing.checks import NotReadyError
from planning.team.pages.pad import Pad, pad_for

#: By what was said of a run, and whether it worked.
_CAME = {
    (True, True): gettext_noop("You said it would work. It did."),
    (True, False): gettext_noop("You said it would work. It did not yet."),
    (False, True): gettext_noop("You said it would not work yet. It did."),
    (False, False): gettext_noop("You said it would not work yet. It did not yet."),
}
_WORDS = {"drive": gettext_noop("Drive"), "push": gettext_noop("Push"), "tool": gettext_noop("Tool")}


@dataclass(frozen=True)
class PadMark:
    """On the pad, as the robot comes: x to the right, y down, in mm. ``kind`` is ``said``, ``plan`` or ``met``."""

    kind: str
    x: float
    y: float


@dataclass(frozen=True)
class Beside:
    """What was said, what the plan expects, what came: in sentences and as marks on one pad (None where nothing is)."""

    lines: tuple[str, ...]
    marks: tuple[PadMark, ...]
    pad: Pad | None


@dataclass(frozen=True)
class Helped:
    """Runs before a change and with it, as dots (x, y of the pad in mm), and in sentences."""

    title: str
    lines: tuple[str, ...]
    before: tuple[tuple[float, float], ...]
    after: tuple[tuple[float, float], ...]
    pad: Pad | None


def steps_to_pick(actions: Sequence[dict[str, Any]]) -> list[tuple[int, str]]:
    """The steps of a plan to choose from: "2, Turn left"."""
    return [(n, _step(action)) for n, action in enumerate(actions, 1)]


def _step(action: dict[str, Any]) -> str:
    do = action["do"]
    if do == "turn":
        return _("Turn left") if action["by_deg"] >= 0 else _("Turn right")
    if do == "drive" and action["distance_mm"] < 0:
        return _("Back up")
    return _(_WORDS.get(do, do.capitalize()))


def beside(attempt: Attempt, unit: str) -> Beside | None:
    """None when the team said nothing before the run."""
    said = attempt.said_before
    if not said:
        return None
    check = _expected(attempt)
    lines = []
    if "works" in said:
        lines.append(_(_CAME[bool(said["works"]), attempt.success]))
    landing = check.landing if check and not attempt.at_target else None
    where = [(_("You: %(where)s"), said.get("lateral_mm"), said.get("along_mm"))]
    where += [(_("your plan: %(where)s"), landing.lateral_mm, landing.along_mm)] if landing else []
    where += [(_("it met: %(where)s"), attempt.lateral_mm, attempt.along_mm)]
    told = [
        words % {"where": place_in_words(left, far, unit)} for words, left, far in where if (left, far) != (None, None)
    ]
    if where[0][1:] != (None, None):
        lines.append(_("Where: %(places)s.") % {"places": "; ".join(told)})
    if "duration_s" in said:
        parts = [_("you said %(seconds)s s") % {"seconds": _digits(said["duration_s"])}]
        parts += [_("your plan %(seconds)s s") % {"seconds": _digits(check.duration_s)}] if check else []
        if attempt.duration_s is not None:
            parts.append(_("it took %(seconds)s s") % {"seconds": _digits(attempt.duration_s)})
        lines.append(_("How long: %(times)s.") % {"times": ", ".join(parts)})
    kinds = ("said", "plan", "met") if landing else ("said", "met")
    marks = [PadMark(kind, *at) for kind, (_, left, far) in zip(kinds, where, strict=True) if (at := _at(left, far))]
    if where[0][1:] == (None, None):
        marks = []
    return Beside(tuple(lines), tuple(marks), _pad(attempt, unit, [(mark.x, mark.y) for mark in marks]))


def helped(attempt: Attempt, unit: str, now: dt.datetime) -> Helped | None:
    """For a run that tests a change: the plan's own runs beside those that test it, of the robot as it is now."""
    trial = attempt.trial
    if trial is None:
        return None
    held = robots_at(attempt.team.club, now, team=attempt.team)
    own = Attempt.objects.standing().filter(team=attempt.team_id, tier=attempt.tier_id).order_by("made_at", "pk")
    before = list(Attempt.objects.since_change(held, now).filter(tier=attempt.tier_id, plan_number=trial.plan_number))
    after = list(own.filter(trial=trial))
    lines = did_it_help(_as_told(before, attempt.at_target), _as_told(after, attempt.at_target), unit)
    dots = [
        tuple(at for run in runs if run.at_target == attempt.at_target and (at := _at(run.lateral_mm, run.along_mm)))
        for runs in (before, after)
    ]
    title = _("Did it help? Plan %(plan)s, try %(letter)s: %(change)s") % {
        "plan": trial.plan_number,
        "letter": trial.letter,
        "change": trial.words,
    }
    return Helped(title, tuple(lines), dots[0], dots[1], _pad(attempt, unit, [*dots[0], *dots[1]]))


def _as_told(runs: Sequence[Attempt], at_target: int) -> list[tuple[bool, float | None]]:
    return [(run.success, off_mm(run) if run.at_target == at_target else None) for run in runs]


def place_in_words(left: float | None, far: float | None, unit: str) -> str:
    """ "3 cm left, 1 cm short"; "in the middle"."""
    parts = []
    if left is not None:
        parts.append(side_in_words(side_word(left), abs(left), unit) if abs(left) >= 0.5 else _("in the middle"))
    if far is not None and abs(far) >= 0.5:
        parts.append(side_in_words("too far" if far > 0 else "short", abs(far), unit))
    return ", ".join(parts) or _("on the mark")


def _digits(seconds: float) -> str:
    return in_own_digits(in_digits(seconds, 4))


def _expected(attempt: Attempt) -> Any:
    """The check of the plan that was run; of a try there is none, since its robot was told something else."""
    if attempt.plan_number is None:
        return None
    plans = Course.objects.filter(team=attempt.team_id, tier_version__tier=attempt.tier_id).visible_to_team()
    course = plans.filter(number=attempt.plan_number).first()
    try:
        return plan_today(course).check if course else None
    except NotReadyError:
        return None


def _at(left: float | None, far: float | None) -> tuple[float, float] | None:
    return None if (left, far) == (None, None) else (-(left or 0.0), -(far or 0.0))


def _pad(attempt: Attempt, unit: str, marks: Sequence[tuple[float, float]]) -> Pad | None:
    at = attempt.at_target
    misses = [(at, -x, -y) for x, y in marks]
    return pad_for(attempt.tier_version.targets, unit, misses, at=str(at)) if marks else None
