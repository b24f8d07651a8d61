"""A "no" that helps: what to move, which way and how far, so that there is a course; each proposal is planned to be sure.

Whatever stands too near a pose that no course can avoid, and whatever leaves the tightest place, is moved towards one of
the table's edges, a little at first. Else the start, the target, the margin or the base are changed. A change that a
shallow search finds a way with is planned whole; only then is it said.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

import shapely
from shapely import affinity
from shapely.geometry import LineString
from shapely.geometry import Polygon as ShapelyPolygon

from motion.course.sentences import in_line
from motion.errors import CancelledError, MotionCode, NoCourseError
from motion.ground.clearance import EDGE_NAMES, target_name, wall_outlines
from motion.ground.named import with_article
from motion.scene.checks import scene_problems
from motion.scene.records import Obstacle, Polygon, Pose, Scene
from motion.search import mend_words, plan
from motion.search.parts import PartFinder
from motion.search.phases import Caution, Phases, placed, push_end
from motion.search.proof import surely_none

#: Moves are told in whole steps of this, mm, and none is longer than the second.
GRAIN_MM, FARTHEST_MM = 10.0, 600.0
#: How many times the least move that geometry asks for is tried, and how many changes are tried in all.
TIMES, TRIES = (1.0, 1.5, 2.5, 4.0, 6.0), 20
#: Steps that robots are set to, mm and degrees.
STEPS_MM, STEPS_DEG = (500, 250, 200, 100, 50, 25, 20, 10, 5, 2, 1), (90, 60, 45, 30, 20, 15, 10, 5, 2, 1)
_TOWARDS = (
    (-1.0, 0.0, EDGE_NAMES[0]), (0.0, -1.0, EDGE_NAMES[1]), (1.0, 0.0, EDGE_NAMES[2]), (0.0, 1.0, EDGE_NAMES[3]),
)  # fmt: skip


@dataclass(frozen=True)
class Mend:
    """A change after which there is a course: ``what`` is changed, in words, the scene with it, and how to draw it.

    ``drawn``: outlines ``before`` and ``after`` (x, y) and a ``label``; None for what has no place on the map.
    """

    what: str
    words: str
    scene: Scene
    drawn: dict[str, Any] | None


@dataclass(frozen=True)
class _Kind:
    """One way of changing a scene, by an amount in mm: what the least is, and what each costs against a plain move."""

    what: str
    least: float
    change: Callable[[float], Scene | None]
    words: Callable[[float], str]
    outline: Callable[[Scene], Polygon] | None = None
    price: float = 1.0


def with_mend(
    scene: Scene, error: NoCourseError, *, exact: bool = False, cancelled: Callable[[], bool] | None = None
) -> NoCourseError:
    """The same refusal with what to do about it, if something was found that helps.

    Examples
    --------
    >>> from motion.scene.example import example_scene
    >>> walled = replace(example_scene(), obstacles=(Obstacle(((600, 100), (640, 100), (640, 890), (600, 890)), "dyke"),))
    >>> try:
    ...     plan.plan_courses(walled, "fastest")
    ... except NoCourseError as refused:
    ...     print(with_mend(walled, refused).message.split("through. ")[1])
    Move the dyke 3 cm towards the near edge, and there is a way.
    """
    more_steps = error.code == MotionCode.NEEDS_MORE_STEPS  # nothing is in the way
    if more_steps or (mend := mend_of(scene, error, exact=exact, cancelled=cancelled)) is None:
        return error
    drawn = None if mend.drawn is None else {**mend.drawn, "what": mend.what}
    return NoCourseError(error.code, in_line(" ", [error.message, mend.words]), error.tightest, mend=drawn)


def mend_of(
    scene: Scene, error: NoCourseError, *, exact: bool = False, cancelled: Callable[[], bool] | None = None
) -> Mend | None:
    """The smallest of the changes looked at after which a course was planned; None when none of them helps.

    Parameters
    ----------
    error
        What ``plan_courses`` said of the scene.
    exact
        Whether it was asked for exact numbers.
    cancelled
        Says whether to stop looking; then there is none.
    """
    try:
        if error.code == MotionCode.STEPS_TOO_COARSE:
            return _finer_steps(scene, cancelled)
        for kind, amount in _in_order(scene, error):
            mend = _tried(scene, kind, amount, exact, cancelled)
            if mend is not None:
                return mend
    except (_StopLookingError, CancelledError):
        return None
    return None


class _StopLookingError(Exception):
    """Asked to stop."""


def _in_order(scene: Scene, error: NoCourseError) -> Iterator[tuple[_Kind, float]]:
    """Every change worth a try, the cheapest first."""
    found = []
    for kind in _kinds(scene, error):
        amounts = {_whole(kind.least * times) for times in TIMES} | {_whole(kind.least) + GRAIN_MM}
        found += [(kind, amount) for amount in amounts if amount <= FARTHEST_MM]
    found.sort(key=lambda each: each[0].price * each[1])
    yield from found[:TRIES]


def _whole(mm: float) -> float:
    return GRAIN_MM * max(1, math.ceil(mm / GRAIN_MM - 1e-9))


def _tried(scene: Scene, kind: _Kind, amount: float, exact: bool, cancelled: Callable[[], bool] | None) -> Mend | None:
    """The change by this amount if it helps."""
    changed = kind.change(amount)
    if changed is None or scene_problems(changed) or not _goes(changed, exact, cancelled):
        return None
    try:
        plan.plan_courses(changed, "fastest", exact=exact, cancelled=cancelled)
    except NoCourseError:
        return None
    drawn = None
    if kind.outline is not None:
        drawn = {"before": kind.outline(scene), "after": kind.outline(changed), "label": mend_words.size_words(amount)}
    return Mend(kind.what, kind.words(amount), changed, drawn)


def _goes(scene: Scene, exact: bool, cancelled: Callable[[], bool] | None) -> bool:
    """Whether a shallow search finds a way out and home."""

    def tick() -> None:
        if cancelled is not None and cancelled():
            raise _StopLookingError

    phases = Phases(scene)
    if surely_none(scene, phases, "out") or surely_none(scene, phases, "home"):
        return False
    finder = PartFinder(scene, exact=exact, seed=0, tick=tick)
    outs = finder.outs(Caution(), ways=2, effort=0.3)
    return bool(outs) and any(finder.homes(Caution(), out.end, ways=2, effort=0.3) for out in outs[:2])


def _kinds(scene: Scene, error: NoCourseError) -> Iterator[_Kind]:
    standing = _must_stand(scene)
    for i in range(len(scene.obstacles) + len(scene.keep_outs)):
        thing = ShapelyPolygon(wall_outlines(scene)[0][i])
        for dx, dy, edge in _TOWARDS:
            least = max(
                _least_of(thing, dx, dy, [(shape, scene.margin_mm) for shape in standing.values()]),
                _least_in_gap(scene, i, dx, dy, error.tightest),
            )
            if 0 < least <= FARTHEST_MM:
                yield _moving(scene, i, dx, dy, edge, least)
                yield _shortening(scene, i, dx, dy, least)
    for what, shape in standing.items():
        for dx, dy, edge in _TOWARDS:
            least = _least_free(scene, shape, dx, dy)
            if 0 < least <= FARTHEST_MM:
                yield _start_or_target(scene, what, dx, dy, edge, least)
    yield from _margins(scene, list(standing.values()), error.tightest)
    if not error.tightest and all(_room(scene, shape) >= scene.margin_mm - 1e-6 for shape in standing.values()):
        yield _Kind(
            "base",
            GRAIN_MM,
            lambda mm: _larger_base(scene, mm),
            mend_words.larger_base,
            lambda each: each.base,
            price=4.0,
        )


def _margins(scene: Scene, standing: list[shapely.Geometry], gap: dict[str, Any] | None) -> Iterator[_Kind]:
    """A smaller margin where that alone makes the room that is missing; whole millimetres."""
    missing = max((scene.margin_mm - _room(scene, shape) for shape in standing), default=0.0)
    if gap is not None:
        missing = max(missing, (gap["needed_mm"] - gap["gap_mm"]) / 2)
    lower = math.floor(scene.margin_mm - missing + 1e-6)
    if missing > 0 and lower >= 0:
        yield _Kind(
            "margin",
            GRAIN_MM * max(1.0, missing / GRAIN_MM),
            lambda mm: replace(scene, margin_mm=float(lower)),
            lambda mm: mend_words.smaller_margin(lower, scene.margin_mm),
            price=2.0,
        )


def _must_stand(scene: Scene) -> dict[str, shapely.Geometry]:
    """The true body where no course can do without it: at the start, and before, with and behind the target."""
    robot, target = scene.robot, scene.target
    body = robot.working_footprint or robot.footprint
    end = push_end(scene)
    ends = [target.precontact, end, push_end(scene, end, -robot.min_back_off_mm)]
    found = {"target": shapely.union_all([placed(body, pose) for pose in ends]).convex_hull}
    return found if scene.start is None else found | {"start": placed(robot.footprint, scene.start)}


def _room(scene: Scene, shape: shapely.Geometry) -> float:
    """How far from everything fixed and from the edges; 0 on any of them."""
    w, d = scene.width_mm, scene.depth_mm
    x0, y0, x1, y1 = shape.bounds
    things = [ShapelyPolygon(outline) for outline in wall_outlines(scene)[0]]
    rooms = [float(shape.distance(thing)) for thing in things]
    return max(0.0, min([x0, y0, w - x1, d - y1, *rooms]))


def _least_free(scene: Scene, shape: shapely.Geometry, dx: float, dy: float) -> float:
    """How far a standing robot must go one way until it keeps the margin from everything; 0 when it does now."""
    for amount in range(0, int(FARTHEST_MM) + 1, int(GRAIN_MM)):
        if _room(scene, affinity.translate(shape, dx * amount, dy * amount)) >= scene.margin_mm - 1e-6:
            return float(amount)
    return math.inf


def _least_of(thing: shapely.Geometry, dx: float, dy: float, keep: list[tuple[shapely.Geometry, float]]) -> float:
    """How far a thing must go one way until it keeps its distance from each shape; 0 when it does now."""
    if all(shape.distance(thing) >= room - 1e-6 for shape, room in keep):
        return 0.0
    far = math.inf
    for amount in range(int(GRAIN_MM), int(FARTHEST_MM) + 1, int(GRAIN_MM)):
        moved = affinity.translate(thing, dx * amount, dy * amount)
        if all(shape.distance(moved) >= room - 1e-6 for shape, room in keep):
            far = float(amount)
            break
    return far


def _least_in_gap(scene: Scene, i: int, dx: float, dy: float, gap: dict[str, Any] | None) -> float:
    """How far one of the two that leave the tightest place must go for the robot to get through."""
    outlines, names, _ = wall_outlines(scene)
    if gap is None or names[i] not in gap["between"]:
        return 0.0
    other = gap["between"][1 - list(gap["between"]).index(names[i])]
    w, d = scene.width_mm, scene.depth_mm
    corners = [(0, d), (0, 0), (w, 0), (w, d), (0, d)]
    shapes: list[shapely.Geometry] = [ShapelyPolygon(o) for k, o in enumerate(outlines) if names[k] == other and k != i]
    shapes += [LineString(corners[k : k + 2]) for k in range(4) if EDGE_NAMES[k] == other]
    if other == target_name(scene):
        shapes += [ShapelyPolygon(ring) for target in scene.targets for ring in (target.body, target.pushed_body)]
    near = shapely.Point(gap["x_mm"], gap["y_mm"]).buffer(2 * gap["needed_mm"])
    keep = [(shape.intersection(near), gap["needed_mm"]) for shape in shapes if shape.intersects(near)]
    return _least_of(ShapelyPolygon(outlines[i]), dx, dy, keep)


def _moving(scene: Scene, i: int, dx: float, dy: float, edge: str, least: float) -> _Kind:
    count, name = len(scene.obstacles), with_article(wall_outlines(scene)[1][i])
    what = "obstacle" if i < count else "keep-out"
    return _Kind(
        what,
        least,
        partial(_with_moved, scene, i, dx, dy),
        lambda mm: mend_words.moved(name, mm, edge),
        lambda each: (*each.obstacles, *each.keep_outs)[i].outline,
    )


def _with_moved(scene: Scene, i: int, dx: float, dy: float, mm: float) -> Scene | None:
    """None when it would then stand off the table or in something that it does not stand in now."""
    count, things = len(scene.obstacles), [*scene.obstacles, *scene.keep_outs]
    before = ShapelyPolygon(things[i].outline)
    things[i] = Obstacle(_shifted(things[i].outline, dx * mm, dy * mm), things[i].name)
    after = ShapelyPolygon(things[i].outline)
    table = shapely.box(0, 0, scene.width_mm, scene.depth_mm)
    others = [ShapelyPolygon(thing.outline) for k, thing in enumerate(things) if k != i]
    others += [*(ShapelyPolygon(target.body) for target in scene.targets), ShapelyPolygon(scene.base)]
    others += [ShapelyPolygon(corner.outline) for corner in scene.no_table]
    if table.covers(before) and not table.covers(after):
        return None
    if any(after.intersection(other).area > before.intersection(other).area + 1.0 for other in others):
        return None
    return replace(scene, obstacles=tuple(things[:count]), keep_outs=tuple(things[count:]))


def _shortening(scene: Scene, i: int, dx: float, dy: float, least: float) -> _Kind:
    """For what stands against an edge and cannot be moved there: its other end is taken back."""
    name, behind = (
        with_article(wall_outlines(scene)[1][i]),
        _TOWARDS[[(-x, -y) for x, y, _edge in _TOWARDS].index((dx, dy))][2],
    )
    return _Kind(
        "obstacle" if i < len(scene.obstacles) else "keep-out",
        least,
        partial(_with_shorter, scene, i, dx, dy),
        lambda mm: mend_words.shortened(name, mm, behind),
        lambda each: (*each.obstacles, *each.keep_outs)[i].outline,
        price=1.3,
    )


def _with_shorter(scene: Scene, i: int, dx: float, dy: float, mm: float) -> Scene | None:
    """Only what reaches to the edge that it would else be moved to; None when little is left of it."""
    count, things = len(scene.obstacles), [*scene.obstacles, *scene.keep_outs]
    shape = ShapelyPolygon(things[i].outline)
    x0, y0, x1, y1 = shape.bounds
    against = {(-1.0, 0.0): x0 - mm < 0, (0.0, -1.0): y0 - mm < 0, (1.0, 0.0): x1 + mm > scene.width_mm}
    left = shape.intersection(affinity.translate(shapely.box(x0, y0, x1, y1), dx * mm, dy * mm))
    if not against.get((dx, dy), y1 + mm > scene.depth_mm) or left.geom_type != "Polygon" or left.area < shape.area / 4:
        return None
    things[i] = Obstacle(_hull(left, convex=False), things[i].name)
    return replace(scene, obstacles=tuple(things[:count]), keep_outs=tuple(things[count:]))


def _start_or_target(scene: Scene, what: str, dx: float, dy: float, edge: str, least: float) -> _Kind:
    if what == "start":
        return _Kind(
            what,
            least,
            lambda mm: replace(scene, start=_further(scene.start, dx * mm, dy * mm)),
            lambda mm: mend_words.started_further(mm, edge),
            lambda each: _hull(placed(each.robot.footprint, _further(each.start, 0, 0))),
            price=0.9,  # nothing on the table need be moved
        )

    def moved(mm: float) -> Scene:
        target = scene.target
        body, aim = _shifted(target.body, dx * mm, dy * mm), _further(target.precontact, dx * mm, dy * mm)
        return replace(scene, target=replace(target, body=body, precontact=aim))

    words = with_article(target_name(scene))
    return _Kind(
        what,
        least,
        moved,
        lambda mm: mend_words.moved(words, mm, edge),
        lambda each: each.target.body,
        price=1.2,
    )


def _larger_base(scene: Scene, mm: float) -> Scene | None:
    grown = ShapelyPolygon(scene.base).buffer(mm, join_style="mitre")
    grown = grown.intersection(shapely.box(0, 0, scene.width_mm, scene.depth_mm))
    grown = grown.difference(shapely.union_all([ShapelyPolygon(corner.outline) for corner in scene.no_table]))
    if grown.geom_type != "Polygon":
        return None
    return replace(scene, base=_hull(grown, convex=False))


def _hull(shape: shapely.Geometry, *, convex: bool = True) -> Polygon:
    ring = (shape.convex_hull if convex else shape).exterior.coords
    return tuple((float(x), float(y)) for x, y in list(ring)[:-1])


def _further(pose: Pose | None, dx: float, dy: float) -> Pose:
    assert pose is not None
    return Pose(pose.x_mm + dx, pose.y_mm + dy, pose.heading_deg)


def _shifted(outline: Polygon, dx: float, dy: float) -> Polygon:
    return tuple((x + dx, y + dy) for x, y in outline)


def _finer_steps(scene: Scene, cancelled: Callable[[], bool] | None) -> Mend | None:
    """The coarsest steps that do: from fine ones on, coarser turns as long as they do, then coarser distances."""
    robot = scene.robot
    turns = [float(step) for step in STEPS_DEG if step < robot.turn_step_deg] or [robot.turn_step_deg]
    lengths = [float(step) for step in STEPS_MM if step < robot.distance_step_mm] or [robot.distance_step_mm]
    turns, lengths = [robot.turn_step_deg, *turns], [robot.distance_step_mm, *lengths]

    def stepped(turn: float, length: float) -> Scene:
        return replace(scene, robot=replace(robot, turn_step_deg=turn, distance_step_mm=length))

    turn, length = turns[-1], next((step for step in lengths if step <= 10.0), lengths[-1])
    if not _goes(stepped(turn, length), False, cancelled):
        return None
    turn = next(each for each in turns if each == turn or _goes(stepped(each, length), False, cancelled))
    length = next(each for each in lengths if each == length or _goes(stepped(turn, each), False, cancelled))
    changed = stepped(turn, length)
    try:
        plan.plan_courses(changed, "fastest", cancelled=cancelled)
    except NoCourseError:
        return None
    return Mend("steps", mend_words.finer_steps(length, turn), changed, None)
