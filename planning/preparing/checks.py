"""Checking a course, and what spoils it, with compiled kernels: the one way there for whatever serves pages."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from django.utils.translation import gettext as _

from classroom.errors import HelmroomError
from motion.course.actions import Action, Check
from motion.scene.records import Pose, Scene
from planning.errors import PlanningCode
from planning.preparing.kernels import kernels_ready

if TYPE_CHECKING:
    from motion.search.one_change import OneChange


class NotReadyError(HelmroomError):
    """The kernels are not compiled yet. Nothing is wrong with what was asked; ask again in a minute."""

    status = 503

    def __init__(self) -> None:
        words = _("The planner is still getting ready on this computer. Try again in a minute.")
        super().__init__(PlanningCode.PLANNER_NOT_READY, words)


def check_now(
    scene: Scene,
    start: Pose,
    actions: Sequence[Action],
    *,
    runs: int = 20_000,
    told: Sequence[Action] | None = None,
) -> Check:
    """As ``motion.check.check_course``; ``runs`` is for a scene that carries nothing of how well its robot is known.

    Raises
    ------
    NotReadyError
        ``planner_not_ready``: it would have to compile first.
    """
    if not kernels_ready():
        raise NotReadyError
    from motion.check import check_course  # late: it brings the kernels in, which most pages do without

    return check_course(scene, start, actions, runs=runs, told=told)


def one_change_now(scene: Scene, start: Pose, actions: Sequence[Action], check: Check) -> OneChange | None:
    """As ``motion.search.one_change.one_change``.

    Raises
    ------
    NotReadyError
        ``planner_not_ready``: it would have to compile first.
    """
    if not kernels_ready():
        raise NotReadyError
    from motion.search.one_change import one_change  # late: it brings the kernels in

    return one_change(scene, start, actions, check)
