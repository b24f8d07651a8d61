"""A course as it goes by: where the robot is at each moment, its tool and the target with it, and pretend runs beside it.

Plain numbers for a page to draw. They are the check's own: the same poses, the same times, the same simulated runs.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from motion.chance.landing import miss
from motion.chance.pretend_runs import PretendRun, pretend_runs
from motion.course.actions import Action, Push, Tool
from motion.course.times import Pacing, pacing_of
from motion.ground.clearance import poses_of
from motion.ground.errands import Errand, errands_of
from motion.scene.records import Point, Polygon, Pose, Scene

#: So many pretend runs are drawn: enough to see a spread, few enough to tell them apart.
GHOSTS = 20


@dataclass(frozen=True)
class Carried:
    """What a push does to a target: which, by how much, and after how much of the push it is met."""

    target: int
    by: Point
    after_share: float


@dataclass(frozen=True)
class RehearsedStep:
    """One action: when it begins, how it goes by, whether the tool is down when it has ended, and what it carries."""

    begins_s: float
    pacing: Pacing
    lowered: bool
    carried: Carried | None = None

    @property
    def ends_s(self) -> float:
        return self.begins_s + self.pacing.seconds


@dataclass(frozen=True)
class Frame:
    """One moment: the step that is under way, the robot, and how far each target has been moved."""

    step: int
    pose: Pose
    lowered: bool
    moved: tuple[Point, ...]


@dataclass(frozen=True)
class Rehearsal:
    """``poses`` are the start and the pose after each step; ``targets`` the outlines before anything moved them."""

    poses: tuple[Pose, ...]
    steps: tuple[RehearsedStep, ...]
    targets: tuple[Polygon, ...]
    ghosts: tuple[PretendRun, ...]

    @property
    def duration_s(self) -> float:
        return self.steps[-1].ends_s if self.steps else 0.0

    def frame(self, seconds: float) -> Frame:
        """What is to be seen so long after the start."""
        step = next((i for i, each in enumerate(self.steps) if seconds < each.ends_s), len(self.steps) - 1)
        if step < 0:
            return Frame(0, self.poses[0], False, tuple((0.0, 0.0) for _ in self.targets))
        now = self.steps[step]
        share = now.pacing.share(seconds - now.begins_s)
        lowered = now.lowered if share >= 1.0 or not step else self.steps[step - 1].lowered
        return Frame(step, between(self.poses[step], self.poses[step + 1], share), lowered, self._moved(step, share))

    def _moved(self, step: int, share: float) -> tuple[Point, ...]:
        moved = [(0.0, 0.0) for _ in self.targets]
        for i, each in enumerate(self.steps[: step + 1]):
            if each.carried is not None:
                done = 1.0 if i < step else _carried_share(each.carried, share)
                x, y = moved[each.carried.target]
                moved[each.carried.target] = (x + done * each.carried.by[0], y + done * each.carried.by[1])
        return tuple(moved)


def rehearse(
    scene: Scene, start: Pose, actions: Sequence[Action], *, told: Sequence[Action] | None = None
) -> Rehearsal:
    """A course moment by moment.

    Parameters
    ----------
    scene, start, actions, told
        As for ``motion.check.check_course``. Pretend runs are only there of a course that pushes once, as its chance is.

    Examples
    --------
    >>> from motion.course.example import example_course
    >>> from motion.scene.example import example_scene
    >>> scene = example_scene()
    >>> seen = rehearse(scene, scene.start, example_course())
    >>> [round(seen.frame(t).pose.x_mm) for t in (0, 2.3, 4.6, seen.duration_s)]
    [150, 662, 1050, 150]
    >>> round(seen.duration_s, 3), [round(x, 3) for x, _ in seen.frame(seen.duration_s).moved]
    (11.3, [50.0])
    """
    poses, begins, lowered = poses_of(start, actions), 0.0, False
    meant = {errand.push: errand for errand in errands_of(scene, start, actions)}
    steps: list[RehearsedStep] = []
    for i, action in enumerate(actions):
        pacing = pacing_of(scene.robot, action)
        if isinstance(action, Tool):
            lowered = {"lower": True, "raise": False}.get(action.name, lowered)
        carried = _carried(meant[i], poses[i + 1], action) if isinstance(action, Push) and i in meant else None
        steps.append(RehearsedStep(begins, pacing, lowered, carried))
        begins += pacing.seconds
    pushes = sum(isinstance(action, Push) for action in actions)
    ghosts = pretend_runs(scene, start, actions, told=told, count=GHOSTS) if len(scene.targets) == pushes == 1 else ()
    return Rehearsal(poses, tuple(steps), tuple(target.body for target in scene.targets), ghosts)


def between(a: Pose, b: Pose, share: float) -> Pose:
    """A pose on the way from one to the next, along the chord and with an even turn.

    >>> between(Pose(0, 0, 0), Pose(100, 0, 90), 0.5)
    Pose(x_mm=50.0, y_mm=0.0, heading_deg=45.0)
    """
    return Pose(
        a.x_mm + share * (b.x_mm - a.x_mm),
        a.y_mm + share * (b.y_mm - a.y_mm),
        a.heading_deg + share * (b.heading_deg - a.heading_deg),
    )


def _carried(errand: Errand, end: Pose, push: Push) -> Carried | None:
    """The target goes along from where the nose meets it, straight on."""
    scene = errand.world
    far = scene.target.push_mm + miss(scene, end)[0]
    if far <= 0 or push.distance_mm <= 0:
        return None
    h = math.radians(scene.target.precontact.heading_deg)
    return Carried(errand.target, (far * math.cos(h), far * math.sin(h)), max(0.0, 1.0 - far / push.distance_mm))


def _carried_share(carried: Carried, share: float) -> float:
    return max(0.0, share - carried.after_share) / (1.0 - carried.after_share) if carried.after_share < 1.0 else 1.0
