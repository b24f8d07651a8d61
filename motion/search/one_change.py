"""Which one step of a draft spoils how it meets the target: the one that puts it right when it alone is changed."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from motion.chance.landing import pushing_nose
from motion.check import TOLERANCE_MM, check_course
from motion.course.actions import Action, Check, Drive, Push, Turn
from motion.ground.clearance import poses_of
from motion.ground.errands import Errand, errands_of
from motion.scene.records import Pose, Scene
from motion.units import wrap_deg

#: How far a step may be off, and what is a small change of either kind.
FAR_MM, FAR_DEG = 1000.0, 90.0
SMALL_MM, SMALL_DEG = 50.0, 5.0
#: So many of the smallest changes that meet the window are checked whole.
TRIED = 6


@dataclass(frozen=True)
class OneChange:
    """A step (index), and by how much longer, or further to the left, it should go (mm or degrees)."""

    action: int
    by: float


def one_change(scene: Scene, start: Pose, actions: Sequence[Action], check: Check) -> OneChange | None:
    """The smallest change of one number after which the course meets its window, and meets nothing new until then.

    Parameters
    ----------
    check
        Of the course as it is; what it touches otherwise is no fault of the change, and the way home may need another.

    Returns
    -------
    OneChange or None
        None when no step does it alone, in whole steps of the robot.

    Examples
    --------
    >>> from motion.course.example import example_course
    >>> from motion.scene.example import example_scene
    >>> scene, (out, push, back) = example_scene(), example_course()
    >>> short = (out, replace(push, distance_mm=60), back)
    >>> one_change(scene, scene.start, short, check_course(scene, scene.start, short, quick=True))
    OneChange(action=1, by=10.0)
    """
    errand = _missed_at(scene, start, actions, check)
    if errand is None or errand.push is None:
        return None
    push = errand.push
    known = _until(push, check) - {(push, "window")}
    best = sorted(
        _candidates(errand.world, start, actions, push), key=lambda each: (_size(each, actions), -each.action)
    )
    for change in best[:TRIED]:
        changed = check_course(scene, start, changed_by(start, actions, change), quick=True)
        if _until(push, changed) <= known:
            return change
    return None


def _missed_at(scene: Scene, start: Pose, actions: Sequence[Action], check: Check) -> Errand | None:
    """Of several targets the first whose window is missed; the first that is pushed when none is."""
    pushed = [errand for errand in errands_of(scene, start, actions) if errand.push is not None]
    missed = {touch.action for touch in check.touches if touch.what == "window"}
    return next((errand for errand in pushed if errand.push in missed), pushed[0] if pushed else None)


def _until(push: int, check: Check) -> set[tuple[int, str]]:
    return {(touch.action, touch.what) for touch in check.touches if touch.action <= push}


def changed_by(start: Pose, actions: Sequence[Action], change: OneChange) -> tuple[Action, ...]:
    """The course with one number changed; later headings follow.

    >>> changed_by(Pose(0, 0, 0), [Turn(30, 30), Drive(100), Turn(-30, 0)], OneChange(0, 10.0))[2]
    Turn(by_deg=-30, to_deg=10.0, do='turn')
    """
    heading = start.heading_deg
    out: list[Action] = []
    for i, action in enumerate(actions):
        if isinstance(action, Turn):
            by = action.by_deg + (change.by if i == change.action else 0)
            heading += by
            out.append(Turn(by, wrap_deg(heading)))
        elif i == change.action and isinstance(action, Drive | Push):
            out.append(replace(action, distance_mm=action.distance_mm + change.by))
        else:
            out.append(action)
    return tuple(out)


def _size(change: OneChange, actions: Sequence[Action]) -> float:
    return abs(change.by) / (SMALL_DEG if isinstance(actions[change.action], Turn) else SMALL_MM)


def _candidates(scene: Scene, start: Pose, actions: Sequence[Action], push: int) -> Iterator[OneChange]:
    """For each step up to the push its smallest change that meets the window, either way."""
    poses = poses_of(start, actions[: push + 1])
    here = [complex(pose.x_mm, pose.y_mm) for pose in poses]
    headings = [pose.heading_deg for pose in poses]
    for i in range(push + 1):
        if isinstance(actions[i], Turn):
            by = _grid(FAR_DEG, scene.robot.turn_step_deg)
            spin = np.exp(1j * np.radians(by))
            contact, end = (here[i] + spin * (here[k] - here[i]) for k in (push, push + 1))
            turned = headings[push] + by
        elif isinstance(actions[i], Drive | Push):
            by = _grid(FAR_MM, scene.robot.distance_step_mm)
            along = by * np.exp(1j * math.radians(headings[i]))
            contact, end = here[push] + (along if i < push else 0 * along), here[push + 1] + along
            turned = np.full(len(by), float(headings[push]))
        else:
            continue
        good = by[_meets(scene, contact, end, turned)]
        yield from (OneChange(i, float(each)) for each in _nearest(good))


def _grid(far: float, step: float) -> np.ndarray:
    count = max(1, min(2000, int(far / step)))
    return step * np.arange(-count, count + 1)


def _nearest(values: np.ndarray) -> Iterator[float]:
    """The smallest of either sign."""
    for side in (values[values > 0][:1], values[values < 0][-1:]):
        yield from side


def _meets(scene: Scene, contact: np.ndarray, end: np.ndarray, heading_deg: np.ndarray) -> np.ndarray:
    """Which pushes, from one point to another, meet the target's window: at contact and at the end, by the nose."""
    target, nose = scene.target, pushing_nose(scene)
    aim, window = target.precontact, target.window
    frame = np.exp(-1j * math.radians(aim.heading_deg))
    turned = (heading_deg - aim.heading_deg + 180) % 360 - 180
    tip = (nose.reach_mm + 1j * nose.left_mm) * (np.exp(1j * np.radians(turned)) - 1)
    missed = (end - complex(aim.x_mm, aim.y_mm)) * frame - target.push_leg_mm + tip
    begins = (contact - complex(aim.x_mm, aim.y_mm)) * frame + tip
    side = begins.imag + target.gap_mm * np.sin(np.radians(turned))
    return np.asarray(
        (np.abs(turned) <= window.heading_deg + TOLERANCE_MM)
        & (np.maximum(np.abs(missed.imag), np.abs(side)) <= window.lateral_mm + TOLERANCE_MM)
        & (missed.real >= -window.short_mm - TOLERANCE_MM)
        & (missed.real <= window.long_mm + TOLERANCE_MM)
    )
