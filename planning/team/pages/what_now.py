"""What a team does next in a tier: one act, with the page on which it is done."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection
from dataclasses import dataclass
from urllib.parse import urlencode

from django.urls import reverse
from django.utils import timezone

from classroom.access import TeamSeat
from classroom.models import Calibration, Robot
from classroom.robots.kinds import KINDS
from missions.day.pages.team_turn import TeamTurn, team_turns
from missions.models import Progress, ProgressState, Tier
from missions.readiness.rules.answer import ReadinessAnswer
from planning.models import Course
from planning.team.services.keep_draft import newest_plan

#: What a course cannot do without: how far the robot drives and how far it turns.
FIRST_MEASURED = ("straight", "spin")


@dataclass(frozen=True)
class NextAct:
    """``words`` say the act; ``href`` and ``button`` lead to its page, empty where the coach has to act first."""

    words: str
    button: str = ""
    href: str = ""


def what_now(
    seat: TeamSeat, tier: Tier, robot: Robot | None, progress: Progress, found: ReadinessAnswer, now: dt.datetime
) -> tuple[NextAct, str]:
    """The act, and where and when by the rota of the day ("" without a turn)."""
    measured = set(Calibration.objects.filter(robot=robot).values_list("kind", flat=True)) if robot else set()
    act = next_act(tier, robot, measured, newest_plan(seat, tier), progress.state == ProgressState.PASSED, found)
    return act, turns_in_words(*team_turns(seat.team, now))


def turns_in_words(on: TeamTurn | None, later: TeamTurn | None) -> str:
    """ "Your turn at Table B until 16:20. Then at Table A from 16:40." """
    words = [f"Your turn at {on.turn.table} until {timezone.localtime(on.ends):%H:%M}."] if on else []
    if later:
        when = f"{timezone.localtime(later.starts):%H:%M}"
        words.append(
            f"Then again at {later.turn.table} from {when}." if on else f"Your next turn: {later.turn.table}, {when}."
        )
    return " ".join(words)


def next_act(
    tier: Tier,
    robot: Robot | None,
    measured: Collection[str],
    plan: Course | None,
    passed: bool,
    found: ReadinessAnswer,
) -> NextAct:
    """The first that is missing of: a robot, its measures, a plan, a clear one, the runs that show it."""
    if robot is None:
        return NextAct("Ask your coach which robot your team takes today.")
    for key in FIRST_MEASURED:
        if key not in measured:
            called = KINDS[key].called
            return NextAct(f"Measure {called} of {robot.name}: never done.", "Measure it", _to("team_calibrate", key))
    if plan is None:
        return NextAct("Draw your first course.", "Draw our course", _to("team_course", tier=tier.pk))
    if plan.check_result and not plan.check_result["clear"]:
        return NextAct(f"Plan {plan.number} is not clear yet: mend it.", "Draw on", _to("team_course", tier=tier.pk))
    if passed:
        return NextAct("You have passed it. Ask your coach what comes next.")
    log = _to("team_log", tier=tier.pk, plan=plan.number)
    if found.code == "ready":
        return NextAct("You have shown it. Tell your coach.")
    return NextAct(f"Run plan {plan.number}{_how_often(found)}.", "Log a run", log)


def _how_often(found: ReadinessAnswer) -> str:
    """ " twice more, clean, on another day": as the rule still asks."""
    day = ", on another day" if "date" in found.need else ""
    if found.of == 0:
        return " for the first time, and look where it meets"
    if found.clean_needed:
        times = {1: "once", 2: "twice"}.get(found.clean_needed, f"{found.clean_needed} times")
        return f" {times} more, clean{day}"
    return f" again{day}"


def _to(name: str, *args: str, **query: int) -> str:
    return reverse(name, args=args) + (f"?{urlencode(query)}" if query else "")
