"""The obstacle assistant: places for an obstacle that really block the plain route and leave a course with room.

A tier with an obstacle should be harder but possible. Candidates are put across the body's sweep of the plain course;
one counts only when that course would hit it and another course keeps at least the asked room from everything. They
are graded by the predicted success of the steadiest such course.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely import affinity
from shapely.geometry import Polygon as ShapelyPolygon

from motion.check import check_course
from motion.course.actions import Drive, PlannedCourse, Push
from motion.course.sentences import _
from motion.errors import DeadlineError, MotionCode, MotionError, NoCourseError
from motion.ground.clearance import poses_of
from motion.scene.checks import scene_problems
from motion.scene.records import Obstacle, Polygon, Scene
from motion.search.phases import placed, push_end
from motion.search.plan import plan_courses

#: Sizes of the things a coach finds in a cupboard, mm (common practice, no source).
SIZES_MM = ((220.0, 50.0), (300.0, 60.0), (160.0, 60.0), (120.0, 120.0), (400.0, 40.0), (90.0, 90.0))
TRIES_EACH = 8


@dataclass(frozen=True)
class Proposal:
    """One place for an obstacle.

    ``course`` is the steadiest course with it in the way that keeps the asked room; ``plain_success`` the predicted
    success of the steadiest one without it; ``longer_s`` how much longer it takes than the fastest without it;
    ``grade`` is ``"gentle"`` (costs less than 15 % of the success), ``"middling"`` (less than 40 %) or ``"hard"``.
    """

    obstacle: Obstacle
    course: PlannedCourse
    plain_success: float
    longer_s: float
    grade: str


def propose_obstacles(
    scene: Scene,
    *,
    room_mm: float,
    count: int = 3,
    seed: int = 0,
    deadline: Callable[[], float | None] | None = None,
    progress: Callable[[float, str], None] | None = None,
) -> list[Proposal]:
    """Propose places for one more obstacle, from gentle to hard.

    Parameters
    ----------
    scene
        The tier as it is, with a typical robot; its obstacles stay.
    room_mm
        How much room the robot must be able to keep from everything, more than the scene's margin or equal to it.
    count
        How many proposals are wanted; fewer come when fewer good places are found.
    seed
        Same scene and seed, same places.
    deadline
        Seconds left; when it runs out after something was found, that is returned.

    Raises
    ------
    MotionError
        ``bad_room``; ``no_place`` when no place does what is asked; the scene's own problems; ``NoCourseError`` when
        even the plain scene leaves no such room; ``DeadlineError``.
    """
    if not room_mm >= 0 or room_mm > 500:
        raise MotionError(
            MotionCode.BAD_ROOM, _("The room to keep is between 0 and 500 mm; choose another."), "room_mm"
        )
    roomy = replace(scene, margin_mm=max(room_mm, scene.margin_mm))
    plain = plan_courses(roomy, "fastest", seed=seed, deadline=deadline)[0]
    before = _chance(plan_courses(roomy, "steadiest", seed=seed, deadline=deadline)[0])
    rng = np.random.default_rng(seed)
    clear_of = _kept_free(scene, room_mm)
    found: list[Proposal] = []
    tries = TRIES_EACH * count
    for attempt in range(tries):
        left = deadline() if deadline is not None else None
        if left is not None and left <= 0:
            if found:
                break
            raise DeadlineError(MotionCode.DEADLINE, _("No place was found in the time given; allow more time."))
        if progress is not None:
            progress(attempt / tries, _("Tried {tried} places, {good} good", tried=attempt, good=len(found)))
        obstacle = _candidate(scene, plain, rng, clear_of)
        if obstacle is None:
            continue
        proposal = _judged(roomy, plain, before, obstacle, seed)
        if proposal is not None:
            found.append(proposal)
            if len(found) >= 2 * count:
                break
    if not found:
        raise MotionError(
            MotionCode.NO_PLACE,
            _("No place was found that blocks the plain route and leaves that much room; ask for less room."),
        )
    found.sort(key=lambda p: -_chance(p.course))
    picks = np.unique(np.linspace(0, len(found) - 1, min(count, len(found))).round().astype(int))
    return [found[i] for i in picks]


def _chance(course: PlannedCourse) -> float:
    return course.check.success.probability if course.check.success is not None else 0.0


def _kept_free(scene: Scene, room_mm: float) -> shapely.Geometry:
    """Where no obstacle may stand: the base, each target before and after, and where the robot must stand at it."""
    robot = scene.robot
    body = robot.working_footprint or robot.footprint
    shapes: list[shapely.Geometry] = []
    for target in scene.targets:
        end = push_end(scene, target.precontact, target.push_leg_mm)
        off = push_end(scene, end, -max(robot.min_back_off_mm, 1.0) - target.push_leg_mm)
        shapes += [placed(body, pose).buffer(room_mm + 10) for pose in (target.precontact, end, off)]
        shapes += [ShapelyPolygon(target.body).buffer(20), ShapelyPolygon(target.pushed_body).buffer(20)]
    shapes += [ShapelyPolygon(scene.base).buffer(20)]
    shapes += [ShapelyPolygon(o.outline).buffer(5) for o in (*scene.obstacles, *scene.keep_outs, *scene.no_table)]
    return shapely.union_all(shapes)


def _candidate(
    scene: Scene, plain: PlannedCourse, rng: np.random.Generator, clear_of: shapely.Geometry
) -> Obstacle | None:
    """A box across the plain way out, somewhere it may stand; None when this draw fell badly."""
    poses = poses_of(plain.start, plain.actions)
    legs = []
    for i, action in enumerate(plain.actions):
        if isinstance(action, Push):
            break
        if isinstance(action, Drive):
            legs.append((poses[i], poses[i + 1]))
    lengths = np.array([math.dist((a.x_mm, a.y_mm), (b.x_mm, b.y_mm)) for a, b in legs])
    if not len(lengths):
        return None
    a, b = legs[int(rng.choice(len(legs), p=lengths / lengths.sum()))]
    t = rng.uniform(0.1, 0.9)
    x, y = a.x_mm + t * (b.x_mm - a.x_mm), a.y_mm + t * (b.y_mm - a.y_mm)
    width, depth = SIZES_MM[int(rng.integers(len(SIZES_MM)))]
    shape = affinity.rotate(shapely.box(-width / 2, -depth / 2, width / 2, depth / 2), rng.uniform(0, 180), (0, 0))
    aside = rng.normal(0, 70, 2)
    shape = affinity.translate(shape, x + aside[0], y + aside[1])
    table = shapely.box(0, 0, scene.width_mm, scene.depth_mm)
    if not table.covers(shape) or shape.intersects(clear_of):
        return None
    corners: Polygon = tuple((round(px, 0), round(py, 0)) for px, py in list(shape.exterior.coords)[:-1])
    return Obstacle(corners, _("new obstacle"))


def _judged(roomy: Scene, plain: PlannedCourse, before: float, obstacle: Obstacle, seed: int) -> Proposal | None:
    """The proposal when the obstacle blocks the plain course and leaves another with the room; None otherwise."""
    harder = replace(roomy, obstacles=(*roomy.obstacles, obstacle))
    if scene_problems(harder):
        return None
    blocked = check_course(harder, plain.start, plain.actions, quick=True)
    if not any(touch.what == "obstacle" and touch.overlap_mm > roomy.margin_mm for touch in blocked.touches):
        return None
    try:
        course = plan_courses(harder, "steadiest", seed=seed)[0]
    except NoCourseError:
        return None
    longer = course.check.duration_s - plain.check.duration_s
    lost = 1.0 - _chance(course) / before if before > 0 else 0.0
    grade = "gentle" if lost < 0.15 else ("middling" if lost < 0.4 else "hard")
    return Proposal(obstacle, course, before, longer, grade)
