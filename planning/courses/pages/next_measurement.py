"""What to measure next so that a plan's chance is known better, in words."""

from __future__ import annotations

from django.utils.translation import get_language
from django.utils.translation import gettext as _

from classroom.robots.kinds import kind_of
from classroom.site.figures import figure_said
from planning.courses.plan_today import PlanToday
from planning.courses.remembered import key_of, remembered
from planning.preparing.kernels import kernels_ready

#: A range that this narrows by less is not worth an afternoon.
WORTH_IT = 0.03


def next_words(today: PlanToday) -> str:
    """ "To know this better, measure set-downs next: the range should shrink from 41 to about 25 in 100." Empty when
    nothing helps much, when no chance is said, or while it cannot be worked out.
    """
    success = today.check.success
    if success is None or not kernels_ready():
        return ""
    key = key_of("next", f"{get_language()} {today.facts}")
    return remembered(key, lambda: _words(today, success.high - success.low))


def _words(today: PlanToday, width: float) -> str:
    from motion.chance.many import whole_by_hypothesis  # late: it brings the kernels in
    from motion.chance.next_measurement import next_measurements

    hypotheses = today.known.hypotheses
    chances = whole_by_hypothesis(today.scene, today.start, today.true, each=128, told=today.told)
    best = next_measurements(today.numbers.knowledge, hypotheses, chances, width)[0]
    if best.width_now - best.width_then < WORTH_IT:
        return ""
    words = _(
        "To know this better, measure %(kind)s next: the range should shrink from %(now)s to about %(then)s in 100."
    )
    widths = {"now": figure_said(100 * best.width_now), "then": figure_said(100 * best.width_then)}
    return words % {"kind": kind_of(best.kind).called, **widths}
