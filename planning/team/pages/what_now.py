"""What a team does next in a tier: one act, with the page on which it is done."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from urllib.parse import urlencode

from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from classroom.access import TeamSeat
from classroom.models import Calibration, Robot
from classroom.robots.kinds import KINDS
from classroom.site.isolated import isolated
from missions.day.pages.team_turn import TeamTurn
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


def what_now(seat: TeamSeat, tier: Tier, robot: Robot | None, progress: Progress, found: ReadinessAnswer) -> NextAct:
    measured = set(Calibration.objects.filter(robot=robot).values_list("kind", flat=True)) if robot else set()
    return next_act(tier, robot, measured, newest_plan(seat, tier), progress.state == ProgressState.PASSED, found)


def turns_in_words(on: TeamTurn | None, later: TeamTurn | None) -> str:
    """Where and when by the rota of the day, "" without a turn: "Your turn at Table B until 16:20. Then at Table A from 16:40." """
    words = []
    if on:
        until = {"table": isolated(on.turn.table), "time": f"{timezone.localtime(on.ends):%H:%M}"}
        words.append(_("Your turn at %(table)s until %(time)s.") % until)
    if later:
        at = {"table": isolated(later.turn.table), "time": f"{timezone.localtime(later.starts):%H:%M}"}
        words.append(
            _("Then again at %(table)s from %(time)s.") % at if on else _("Your next turn: %(table)s, %(time)s.") % at
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
        return NextAct(_("Ask your coach which robot your team takes today."))
    for key in FIRST_MEASURED:
        if key not in measured:
            words = _("Measure %(kind)s of %(robot)s: never done.")
            named = {"kind": KINDS[key].called, "robot": isolated(robot.name)}
            return NextAct(words % named, _("Measure it"), _to("team_calibrate", key))
    if plan is None:
        return NextAct(_("Draw your first course."), _("Draw our course"), _to("team_course", tier=tier.pk))
    if plan.check_result and not plan.check_result["clear"]:
        words = _("Plan %(plan)s is not clear yet: mend it.") % {"plan": plan.number}
        return NextAct(words, _("Draw on"), _to("team_course", tier=tier.pk))
    if passed:
        return NextAct(_("You have passed it. Ask your coach what comes next."))
    log = _to("team_log", tier=tier.pk, plan=plan.number)
    if found.code == "ready":
        return NextAct(_("You have shown it. Tell your coach."))
    return NextAct(_how_often(found, plan.number), _("Log a run"), log)


def _how_often(found: ReadinessAnswer, plan: int) -> str:
    """ "Run plan 3 twice more, clean, on another day.": as the rule still asks."""
    other_day = "date" in found.need
    if found.of == 0:
        return _("Run plan %(plan)s for the first time, and look where it meets.") % {"plan": plan}
    times = found.clean_needed
    if not times:
        words = _("Run plan %(plan)s again, on another day.") if other_day else _("Run plan %(plan)s again.")
    elif times == 2:
        words = (
            _("Run plan %(plan)s twice more, clean, on another day.")
            if other_day
            else _("Run plan %(plan)s twice more, clean.")
        )
    elif other_day:
        words = ngettext(
            "Run plan %(plan)s once more, clean, on another day.",
            "Run plan %(plan)s %(times)s times more, clean, on another day.",
            times,
        )
    else:
        words = ngettext("Run plan %(plan)s once more, clean.", "Run plan %(plan)s %(times)s times more, clean.", times)
    return words % {"plan": plan, "times": times}


def _to(name: str, *args: str, **query: int) -> str:
    return reverse(name, args=args) + (f"?{urlencode(query)}" if query else "")
