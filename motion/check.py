"""Checking a course: clear, or which action touches what and where; room to spare; what to expect of it.

Serves the planner's own courses and a team's drafts alike, whole or still in the making. The second judge is
``judge.py``, which shares no code with this.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import shapely
from shapely import Polygon as Shape
from shapely.ops import nearest_points

from motion.chance.landing import landing as predicted_landing
from motion.chance.landing import miss
from motion.chance.montecarlo import success as predicted_success
from motion.chance.pace import within_limit
from motion.course.actions import AT_START, Action, Check, Drive, Landing, Push, Share, Success, Tool, Touch, Turn
from motion.course.times import course_seconds
from motion.ground.clearance import (
    EDGE_NAMES,
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
    ground, stages, poses = ground_of(scene), stages_of(actions), poses_of(start, actions)
    rooms, nearest, touches = [], [], _at_the_start(scene, ground, start)
    for i, action in enumerate(actions):
        room, index = action_room(ground, stages[i], poses[i], action)
        name, kind = ("", "") if index < 0 else _named(ground, stages[i], index)
        rooms.append(room)
        nearest.append(name)
        if room < scene.margin_mm - TOLERANCE_MM:
            touches.append(_touch(scene, stages[i], poses[i], action, i, name, kind, room))
    pushes = [i for i, action in enumerate(actions) if isinstance(action, Push)]
    touches += _idle_turns(poses, actions, told or actions)
    touches += _at_the_target(scene, ground, poses, actions, pushes)
    touches += _at_the_end(scene, ground, poses[-1], stages, actions, pushes)
    landing, shares, success = _expected(scene, start, actions, told, pushes, runs, seed, quick, rooms)
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
        landing=landing,
        success=success,
        shares=shares,
    )


def _expected(
    scene: Scene,
    start: Pose,
    actions: Sequence[Action],
    told: Sequence[Action] | None,
    pushes: list[int],
    runs: int,
    seed: int,
    quick: bool,
    rooms: Sequence[float],
) -> tuple[Landing | None, tuple[Share, ...], Success | None]:
    if len(pushes) != 1:
        return None, (), None
    landing, shares = predicted_landing(scene, start, actions, told=told)
    if quick:
        return landing, shares, None
    success = predicted_success(scene, start, actions, runs=runs, seed=seed, rooms=rooms, told=told)
    in_time = within_limit(course_seconds(scene.robot, actions)[0], scene.time_limit_s, scene.pace)
    return (
        landing,
        shares,
        Success(success.probability * in_time, success.low * in_time, success.high * in_time, success.runs),
    )


def step_words(index: int, action: Action) -> str:
    """An action in words: "Step 3, a turn to the left,".

    Examples
    --------
    >>> step_words(2, Turn(90, 90)), step_words(3, Drive(-200))
    ('Step 3, a turn to the left,', 'Step 4, a drive backwards,')
    """
    if isinstance(action, Turn):
        kind = f"a turn to the {'left' if action.by_deg >= 0 else 'right'}"
    elif isinstance(action, Push):
        kind = "the push"
    elif isinstance(action, Tool):
        kind = "a tool move"
    else:
        kind = "a drive" if action.distance_mm >= 0 else "a drive backwards"
    return f"Step {index + 1}, {kind},"


def _named(ground: Ground, stage: Stage, index: int) -> tuple[str, str]:
    return ground.names[stage.name][index], ground.kinds[stage.name][index]


def _with_article(name: str) -> str:
    return name if name.split()[0] in ("the", "obstacle", "keep-out") else f"the {name}"


def _touch(scene: Scene, stage: Stage, pose: Pose, action: Action, i: int, name: str, kind: str, room: float) -> Touch:
    how = "runs into" if room <= 0 else "comes too near"
    x, y = _where(scene, stage, pose, action, name, kind)
    message = f"{step_words(i, action)} {how} {_with_article(name)}."
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
    words = "The robot does not start wholly inside the base. Set it down further in."
    return [Touch(AT_START, "base", "the base", start.x_mm, start.y_mm, 0.0, words)]


def _idle_turns(poses: Sequence[Pose], actions: Sequence[Action], told: Sequence[Action]) -> list[Touch]:
    """Turns by nothing: they take no time, and yet a robot that counts its yaw from the start would be put straight."""
    pairs = enumerate(zip(actions, told, strict=False))
    idle = [i for i, pair in pairs if all(isinstance(each, Turn) and each.by_deg == 0 for each in pair)]
    words = "turns by nothing. Give it a number, or take it out."
    return [Touch(i, "turn", "the turn", poses[i].x_mm, poses[i].y_mm, 0.0, f"Step {i + 1} {words}") for i in idle]


def _at_the_target(
    scene: Scene, ground: Ground, poses: Sequence[Pose], actions: Sequence[Action], pushes: list[int]
) -> list[Touch]:
    """What is wrong about the push, if there is one: left the base, met the window, backed off."""
    if not pushes:
        return [_ending(poses[-1], len(actions), "push", "The course does not push the target yet.")]
    if len(pushes) > 1:
        second = pushes[1]
        return [_ending(poses[second], second, "push", f"Step {second + 1} pushes again; one push is enough.")]
    i = pushes[0]
    return [
        *_outside_first(ground, poses, actions, i),
        *_window(scene, poses[i], poses[i + 1], i, actions[i]),
        *_backing_off(scene, poses, actions, i),
    ]


def _outside_first(ground: Ground, poses: Sequence[Pose], actions: Sequence[Action], push: int) -> list[Touch]:
    lowered = [stage.lowered for stage in stages_of(actions)]
    if any(not _inside(ground, lowered[i], poses[i]) for i in range(push + 1)):
        return []
    return [_ending(poses[push], push, "base", "The robot pushes before it has left the base.")]


def _window(scene: Scene, before: Pose, after: Pose, push: int, action: Action) -> list[Touch]:
    window, (along, lateral, turned) = scene.target.window, miss(scene, after)
    meets = miss(scene, before)[1] + scene.target.gap_mm * math.sin(math.radians(turned))  # the nose, at contact
    side = max(lateral, meets, key=abs)
    name = target_name(scene)
    if isinstance(action, Push) and action.distance_mm <= 0:
        words = f"{step_words(push, action)} does not go forward."
        return [Touch(push, "window", name, after.x_mm, after.y_mm, 0.0, words)]
    found = []
    if abs(turned) > window.heading_deg + TOLERANCE_MM:
        found.append(f"turned {figure(abs(turned))}° too far to the {'left' if turned > 0 else 'right'}")
    if abs(side) > window.lateral_mm + TOLERANCE_MM:
        found.append(f"{figure(abs(side))} mm too far to the {'left' if side > 0 else 'right'}")
    if along < -window.short_mm - TOLERANCE_MM or along <= TOLERANCE_MM - scene.target.push_mm:  # it was not moved
        found.append(f"{figure(-along)} mm short of pushed")
    if along > window.long_mm + TOLERANCE_MM:
        found.append(f"{figure(along)} mm past where the push should stop")
    return [
        Touch(push, "window", name, after.x_mm, after.y_mm, 0.0, f"At {_with_article(name)} the robot ends {words}.")
        for words in found
    ]


def _backing_off(scene: Scene, poses: Sequence[Pose], actions: Sequence[Action], push: int) -> list[Touch]:
    after = next((i for i in range(push + 1, len(actions)) if not isinstance(actions[i], Tool)), None)
    if after is None:
        return []
    least, action, name = scene.robot.min_back_off_mm, actions[after], _with_article(target_name(scene))
    if not (isinstance(action, Drive) and action.distance_mm <= -least + TOLERANCE_MM):
        words = f"After the push the robot first backs straight off {name}, at least {figure(least)} mm."
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
            f"Step {after + 1} stops while it still touches {name}. Back off further.",
        )
    ]


def _at_the_end(
    scene: Scene, ground: Ground, end: Pose, stages: Sequence[Stage], actions: Sequence[Action], pushes: list[int]
) -> list[Touch]:
    lowered = (
        bool(stages) and stages[-1].lowered and not (isinstance(actions[-1], Tool) and actions[-1].name == "raise")
    )
    if not pushes or _inside(ground, lowered, end):
        return []
    return [_ending(end, len(actions), "base", "The robot does not end wholly inside the base.")]


def _ending(pose: Pose, action: int, what: str, words: str) -> Touch:
    return Touch(action, what, "the base" if what == "base" else "the target", pose.x_mm, pose.y_mm, 0.0, words)
