"""Checking a course: clear, or which action touches what and where; room to spare; what to expect of it.

Serves the planner's own courses and a team's drafts alike, whole or still in the making. The second judge is
``tests/oracles/judge.py``, which shares no code with this.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon as Shape
from shapely.ops import nearest_points

from motion.chance.expected import Simulated, expected_of
from motion.chance.landing import miss
from motion.course.actions import AT_START, Action, Check, Drive, Push, Tool, Touch, Turn
from motion.course.sentences import _, all_of, numeral
from motion.course.times import course_seconds
from motion.ground.clearance import (
    Ground,
    Stage,
    action_room,
    ground_of,
    inside_base,
    poses_of,
    pushed_body,
    stages_of,
    target_name,
    wall_outlines,
)
from motion.ground.errands import Errand, errands_of, in_the_way, meant_by, name_of
from motion.ground.named import EDGE_NAMES, with_article
from motion.ground.outlines import swept_by
from motion.scene.records import Pose, Scene
from motion.units import figure

TOLERANCE_MM = 1e-6


def check_course(
    scene: Scene,
    start: Pose,
    actions: Sequence[Action],
    *,
    runs: int = 20_000,
    seed: int = 0,
    quick: bool = False,
    told: Sequence[Action] | None = None,
    stop: NDArray[np.int64] | None = None,
) -> Check:
    """Check a course on a scene.

    Parameters
    ----------
    start
        Pose at which it begins; must be inside the base.
    actions
        As the robot truly drives them. A course without a push yet is checked as far as it goes.
    runs, seed
        Simulated runs for the predicted success, and their stream; ``quick`` leaves that out.
    told
        What the robot is told so that it drives ``actions``; by default what allows for the scene's systematic part.
    stop
        As for :func:`motion.chance.montecarlo.success`.

    Returns
    -------
    Check
        ``clear`` only when every action keeps the margin, the robot leaves the base before it pushes, meets the window,
        backs off far enough and ends wholly inside the base.

    Raises
    ------
    MotionError
        ``not_finite``, ``bad_noise``, ``no_runs``.

    Examples
    --------
    >>> from motion.course.example import example_course
    >>> from motion.scene.example import example_scene
    >>> scene, actions = example_scene(), example_course()
    >>> check = check_course(scene, scene.start, actions, runs=1000)
    >>> check.clear, round(check.duration_s, 3), round(check.clearance_mm, 3)
    (True, 11.3, 50.0)
    >>> [touch.message for touch in check_course(scene, scene.start, actions[:2], quick=True).touches]
    ['The robot does not end wholly inside the base.']
    """
    poses, errands = poses_of(start, actions), errands_of(scene, start, actions)
    rooms, nearest, touches = [], [], _at_the_start(scene, ground_of(errands[0].world), start)
    for errand in errands:
        ground, mistaken = ground_of(errand.world), _mistaken_for(scene, errand, poses)
        for i, stage in enumerate(errand.stages, errand.first):
            room, index = action_room(ground, stage, poses[i], actions[i])
            name, kind = ("", "") if index < 0 else _named(ground, stage, index)
            rooms.append(room)
            nearest.append(name)
            meant = mistaken is not None and stage.name in ("push", "back") and name == name_of(scene, mistaken)
            if room < scene.margin_mm - TOLERANCE_MM and not meant:
                touches.append(_touch(errand.world, stage, poses[i], actions[i], i, name, kind, room))
    touches += _idle_turns(poses, actions, told or actions)
    touches += _at_the_targets(scene, errands, poses, actions)
    touches += _at_the_end(ground_of(errands[-1].world), poses[-1], actions)
    expected = expected_of(scene, errands, start, actions, told, Simulated(runs, seed, quick, tuple(rooms), stop))
    duration, outbound, back = course_seconds(scene.robot, actions)
    return Check(
        clear=not touches,
        touches=tuple(touches),
        room_mm=tuple(rooms),
        nearest=tuple(nearest),
        poses=poses,
        duration_s=duration,
        outbound_s=outbound,
        return_s=back,
        clearance_mm=min(rooms, default=math.inf),
        **expected,
    )


def step_words(index: int, action: Action) -> str:
    """An action in words: "Step 3, a turn to the left,".

    Examples
    --------
    >>> step_words(2, Turn(90, 90)), step_words(3, Drive(-200))
    ('Step 3, a turn to the left,', 'Step 4, a drive backwards,')
    """
    if isinstance(action, Turn):
        if action.by_deg >= 0:
            return _("Step {step}, a turn to the left,", step=index + 1)
        return _("Step {step}, a turn to the right,", step=index + 1)
    if isinstance(action, Push):
        return _("Step {step}, the push,", step=index + 1)
    if isinstance(action, Tool):
        return _("Step {step}, a tool move,", step=index + 1)
    if action.distance_mm >= 0:
        return _("Step {step}, a drive,", step=index + 1)
    return _("Step {step}, a drive backwards,", step=index + 1)


def _named(ground: Ground, stage: Stage, index: int) -> tuple[str, str]:
    return ground.names[stage.name][index], ground.kinds[stage.name][index]


def _touch(scene: Scene, stage: Stage, pose: Pose, action: Action, i: int, name: str, kind: str, room: float) -> Touch:
    x, y = _where(scene, stage, pose, action, name, kind)
    said = {"step": step_words(i, action), "thing": with_article(name)}
    message = _("{step} runs into {thing}.", **said) if room <= 0 else _("{step} comes too near {thing}.", **said)
    return Touch(i, kind, name, x, y, scene.margin_mm - room, message)


def _where(scene: Scene, stage: Stage, pose: Pose, action: Action, name: str, kind: str) -> tuple[float, float]:
    """A point of the body's sweep that shows the touch."""
    swept = swept_by(scene, pose, action, stage.lowered)
    if swept is None:
        return pose.x_mm, pose.y_mm
    other = _thing(scene, stage, name, kind)
    if kind == "edge":
        over = swept.difference(shapely.box(0, 0, scene.width_mm, scene.depth_mm))
    else:
        over = swept.intersection(other)
    spot = nearest_points(swept, other)[0] if over.is_empty else over.representative_point()
    return float(min(max(spot.x, 0), scene.width_mm)), float(min(max(spot.y, 0), scene.depth_mm))


def _thing(scene: Scene, stage: Stage, name: str, kind: str) -> shapely.Geometry:
    if kind == "edge":
        w, d = scene.width_mm, scene.depth_mm
        corners = [(0, d), (0, 0), (w, 0), (w, d), (0, d)]  # left, near, right, far
        side = EDGE_NAMES.index(name)
        return shapely.LineString(corners[side : side + 2])
    if kind == "target":
        return Shape(pushed_body(scene) if stage.name == "home" else scene.target.body)
    outlines, names, _ = wall_outlines(scene)
    return shapely.union_all([Shape(o) for o, n in zip(outlines, names, strict=True) if n == name])


def _inside(ground: Ground, lowered: bool, pose: Pose) -> bool:
    h = math.radians(pose.heading_deg)
    return bool(inside_base(ground.homing(lowered), float(pose.x_mm), float(pose.y_mm), h))


def _at_the_start(scene: Scene, ground: Ground, start: Pose) -> list[Touch]:
    if _inside(ground, False, start):
        return []
    words = _("The robot does not start wholly inside the base. Set it down further in.")
    return [Touch(AT_START, "base", _("the base"), start.x_mm, start.y_mm, 0.0, words)]


def _idle_turns(poses: Sequence[Pose], actions: Sequence[Action], told: Sequence[Action]) -> list[Touch]:
    """Turns by nothing: they take no time, and yet a robot that counts its yaw from the start would be put straight."""
    pairs = enumerate(zip(actions, told, strict=False))
    idle = [i for i, pair in pairs if all(isinstance(each, Turn) and each.by_deg == 0 for each in pair)]
    return [
        Touch(
            i, "turn", _("the turn"), poses[i].x_mm, poses[i].y_mm, 0.0,
            _("Step {step} turns by nothing. Give it a number, or take it out.", step=i + 1),
        )
        for i in idle
    ]  # fmt: skip


def _at_the_targets(
    scene: Scene, errands: Sequence[Errand], poses: Sequence[Pose], actions: Sequence[Action]
) -> list[Touch]:
    """What is wrong about the pushes: one for each target, having left the base, in the window, backed off."""
    extra = [i for i, action in enumerate(actions) if isinstance(action, Push)][len(scene.targets) :]
    if extra:
        again = (
            _("Step {step} pushes again; each target is pushed once.", step=extra[0] + 1)
            if scene.more_targets
            else _("Step {step} pushes again; one push is enough.", step=extra[0] + 1)
        )
        return [_ending(poses[extra[0]], extra[0], "push", again)]
    found: list[Touch] = []
    for errand in errands:
        if errand.push is not None:
            found += _at_the_target(scene, errand, poses, actions, left_base=errand is not errands[0])
    missing = sorted(set(range(len(scene.targets))) - {errand.target for errand in errands if errand.push is not None})
    if missing:
        names = [with_article(name_of(scene, i)) if scene.more_targets else _("the target") for i in missing]
        words = _("The course does not push {things} yet.", things=all_of(names))
        found.append(_ending(poses[-1], len(actions), "push", words))
    return found


def _at_the_target(
    scene: Scene, errand: Errand, poses: Sequence[Pose], actions: Sequence[Action], *, left_base: bool
) -> list[Touch]:
    i, world, ground = errand.push or 0, errand.world, ground_of(errand.world)
    return [
        *([] if left_base else _outside_first(ground, poses, actions, i)),
        *(_out_of_turn(scene, errand, poses) or _window(world, poses[i], poses[i + 1], i, actions[i])),
        *_met_by_target(scene, errand, poses[i + 1]),
        *_backing_off(world, poses, actions, i),
    ]


def _mistaken_for(scene: Scene, errand: Errand, poses: Sequence[Pose]) -> int | None:
    """In a given order: the target that an errand's push is plainly meant for, when it is not that one's turn."""
    if not scene.more_targets or scene.any_order or errand.push is None:
        return None
    meant = meant_by(scene, poses[errand.push], range(len(scene.targets)))
    return None if meant == errand.target else meant


def _out_of_turn(scene: Scene, errand: Errand, poses: Sequence[Pose]) -> list[Touch]:
    meant, i = _mistaken_for(scene, errand, poses), errand.push or 0
    if meant is None:
        return []
    name, turn = with_article(name_of(scene, meant)), with_article(errand.world.target.name)
    if meant in errand.pushed:
        words = _("Step {step} pushes {thing} again; it is the turn of {turn}.", step=i + 1, thing=name, turn=turn)
    else:
        words = _("Step {step} pushes {thing}, but {turn} comes before it.", step=i + 1, thing=name, turn=turn)
    return [_ending(poses[i], i, "push", words)]


def _met_by_target(scene: Scene, errand: Errand, end: Pose) -> list[Touch]:
    """A target that is pushed into another one."""
    other = in_the_way(scene, errand.target, errand.pushed)
    if other is None:
        return []
    words = _(
        "Step {step} pushes {thing} into {other}.",
        step=(errand.push or 0) + 1,
        thing=with_article(errand.world.target.name),
        other=with_article(name_of(scene, other)),
    )
    return [_ending(end, errand.push or 0, "target", words)]


def _outside_first(ground: Ground, poses: Sequence[Pose], actions: Sequence[Action], push: int) -> list[Touch]:
    lowered = [stage.lowered for stage in stages_of(actions)]
    if any(not _inside(ground, lowered[i], poses[i]) for i in range(push + 1)):
        return []
    return [_ending(poses[push], push, "base", _("The robot pushes before it has left the base."))]


def _window(scene: Scene, before: Pose, after: Pose, push: int, action: Action) -> list[Touch]:
    window, (along, lateral, turned) = scene.target.window, miss(scene, after)
    meets = miss(scene, before)[1] + scene.target.gap_mm * math.sin(math.radians(turned))  # the nose, at contact
    side = max(lateral, meets, key=abs)
    name = target_name(scene)
    if isinstance(action, Push) and action.distance_mm <= 0:
        words = _("{step} does not go forward.", step=step_words(push, action))
        return [Touch(push, "window", name, after.x_mm, after.y_mm, 0.0, words)]
    found, thing = [], with_article(name)
    if abs(turned) > window.heading_deg + TOLERANCE_MM:
        told = {"thing": thing, "size": numeral(figure(abs(turned)))}
        found.append(
            _("At {thing} the robot ends turned {size}° too far to the left.", **told)
            if turned > 0
            else _("At {thing} the robot ends turned {size}° too far to the right.", **told)
        )
    if abs(side) > window.lateral_mm + TOLERANCE_MM:
        told = {"thing": thing, "size": numeral(figure(abs(side)))}
        found.append(
            _("At {thing} the robot ends {size} mm too far to the left.", **told)
            if side > 0
            else _("At {thing} the robot ends {size} mm too far to the right.", **told)
        )
    if along < -window.short_mm - TOLERANCE_MM or along <= TOLERANCE_MM - scene.target.push_mm:  # it was not moved
        found.append(
            _("At {thing} the robot ends {size} mm short of pushed.", thing=thing, size=numeral(figure(-along)))
        )
    if along > window.long_mm + TOLERANCE_MM:
        past = numeral(figure(along))
        found.append(_("At {thing} the robot ends {size} mm past where the push should stop.", thing=thing, size=past))
    return [Touch(push, "window", name, after.x_mm, after.y_mm, 0.0, words) for words in found]


def _backing_off(scene: Scene, poses: Sequence[Pose], actions: Sequence[Action], push: int) -> list[Touch]:
    after = next((i for i in range(push + 1, len(actions)) if not isinstance(actions[i], Tool)), None)
    if after is None:
        return []
    least, action, name = scene.robot.min_back_off_mm, actions[after], with_article(target_name(scene))
    if not (isinstance(action, Drive) and action.distance_mm <= -least + TOLERANCE_MM):
        words = _(
            "After the push the robot first backs straight off {thing}, at least {size} mm.",
            thing=name,
            size=numeral(figure(least)),
        )
        return [_ending(poses[after], after, "target", words)]
    room, index = action_room(
        ground_of(scene), Stage("home", stages_of(actions)[after].lowered), poses[after + 1], Drive(0.0)
    )
    if room >= scene.margin_mm - TOLERANCE_MM or index < 0:
        return []
    if _named(ground_of(scene), Stage("home", False), index)[1] != "target":
        return []  # the sweep itself has said so
    return [
        _ending(
            poses[after + 1],
            after,
            "target",
            _("Step {step} stops while it still touches {thing}. Back off further.", step=after + 1, thing=name),
        )
    ]


def _at_the_end(ground: Ground, end: Pose, actions: Sequence[Action]) -> list[Touch]:
    stages = stages_of(actions)
    lowered = (
        bool(stages) and stages[-1].lowered and not (isinstance(actions[-1], Tool) and actions[-1].name == "raise")
    )
    if not any(isinstance(action, Push) for action in actions) or _inside(ground, lowered, end):
        return []
    return [_ending(end, len(actions), "base", _("The robot does not end wholly inside the base."))]


def _ending(pose: Pose, action: int, what: str, words: str) -> Touch:
    return Touch(action, what, _("the base") if what == "base" else _("the target"), pose.x_mm, pose.y_mm, 0.0, words)
