"""What the page for logging a run shows, gathered in one place for its views."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from classroom.access import TeamSeat
from missions.access import current_tier_version
from missions.models import Attempt, Cause, Tier, TierVersion
from missions.runs.forms import OUTCOME, new_key
from missions.runs.services.trials import pinned_trial, trial_of_key
from motion.units import MM_PER_UNIT, in_digits, to_unit
from planning.models import Course
from planning.team.pages.experiment import steps_to_pick
from planning.team.pages.pad import pad_for

LAST = 5


@dataclass(frozen=True)
class Ask:
    """One criterion with what was answered: "yes", "no" or nothing yet; ``about`` one of several targets, if it is."""

    name: str
    words: str
    answer: str
    about: str = ""


def log_page(seat: TeamSeat, tier: Tier, *, plan: str | None = None, filled: Any = None) -> dict[str, Any]:
    """``filled`` holds what was typed before, so that nothing has to be typed twice."""
    edition = current_tier_version(tier)
    assert edition is not None, "an open tier is published"
    runs = Attempt.objects.standing().filter(team=seat.team, tier=tier)
    last = list(runs.order_by("-made_at", "-pk")[:LAST])
    courses = Course.objects.filter(team=seat.team, tier_version__tier=tier).visible_to_team().order_by("-number")
    steps = dict(courses.values_list("number", "actions")[:8])
    plans = list(steps)
    number = runs.count() + 1
    typed = filled if filled is not None else {}
    trial = pinned_trial(seat.team, tier.pk) if filled is None else trial_of_key(seat.team, tier.pk, typed.get("trial"))
    tested = trial.plan_number if trial else None  # of a change the plan is that which it changes
    ran = last[0].plan_number if last else None
    picked = str(typed.get("plan") or plan or tested or ran or (plans[0] if plans else ""))
    return {
        "tab": "team_log",
        "tier": tier,
        "edition": edition,
        "number": number,
        "asks": asks(edition, typed),
        "causes": Cause.choices,
        "pad": pad_for(
            edition.targets,
            seat.club.unit,
            [(r.at_target, r.lateral_mm, r.along_mm) for r in last],
            at=str(typed.get("at_target") or ""),
        ),
        "last": [(number - 1 - i, run) for i, run in enumerate(last)],
        "plans": plans,
        "plan": picked,
        "steps": steps_to_pick(steps.get(int(picked), [])) if picked.isdigit() else [],
        "trial": trial,
        "typed": typed,
        "key": typed.get("uuid") or new_key(),
        "unit_mm": MM_PER_UNIT[seat.club.unit],
    }


def asks(edition: TierVersion, typed: Any) -> list[Ask]:
    """In the order of the tier, those of one target together, first where its first one stands."""
    found = [
        Ask(
            OUTCOME + each["key"],
            each["words"],
            str(typed.get(OUTCOME + each["key"]) or ""),
            edition.target_name(each["target"] - 1) if each.get("target") else "",
        )
        for each in edition.criteria
    ]
    first = {ask.about: i for i, ask in reversed(list(enumerate(found))) if ask.about}
    place = {ask.name: first.get(ask.about, i) for i, ask in enumerate(found)}
    return sorted(found, key=lambda ask: place[ask.name])


def as_typed(attempt: Attempt, unit: str) -> dict[str, Any]:
    """A run as its form's fields, to be changed."""
    typed: dict[str, Any] = {OUTCOME + key: "yes" if met else "no" for key, met in attempt.outcomes.items()}
    said = attempt.said_before or {}
    for field, side, value, words in (
        ("sideways", "side", attempt.lateral_mm, ("left", "right")),
        ("along", "way", attempt.along_mm, ("far", "short")),
        ("say_sideways", "say_side", said.get("lateral_mm"), ("left", "right")),
        ("say_along", "say_way", said.get("along_mm"), ("far", "short")),
    ):
        if value is not None:
            typed[field] = in_digits(to_unit(abs(value), unit), 4)
            typed[side] = words[value < 0]
    if attempt.heading_error_deg is not None:
        typed["angle"] = in_digits(abs(attempt.heading_error_deg), 4)
        typed["angle_side"] = "right" if attempt.heading_error_deg < 0 else "left"
    return typed | {
        "duration": "" if attempt.duration_s is None else f"{attempt.duration_s:g}",
        "cause": attempt.cause,
        "change_to_try": attempt.change_to_try,
        "note": attempt.note,
        "plan": attempt.plan_number,
        "trial": attempt.trial.uuid if attempt.trial else None,
        "at_target": str(attempt.at_target),
        "works": ("yes" if said["works"] else "no") if "works" in said else "",
        "say_time": f"{said['duration_s']:g}" if "duration_s" in said else "",
    }
