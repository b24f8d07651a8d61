"""The map of a scene and a course, drawn like a chart, as SVG.

Everything carries a class (``chart-edge``, ``chart-base``, ``chart-obstacle``, ``chart-sweep``, ...). Alone, the drawing
brings its own small style sheet; in a page the site's does the colouring, so that dark mode and print work.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from html import escape
from typing import Any

from motion.chance.landing import pushing_nose
from motion.course.actions import Action, Drive, Landing, Meeting, PlannedCourse, Push, Touch
from motion.course.sentences import _, in_line, kept, ngettext, numeral
from motion.ground.clearance import poses_of
from motion.ground.errands import name_of
from motion.ground.outlines import swept_outlines
from motion.picture.labels import LabelBox, Labels
from motion.picture.sheet import STYLE, ChartSheet, dial, grid, patterns, scale_bar
from motion.scene.records import Point, Polygon, Pose, Scene, Target, table_outline

NINE_IN_TEN = math.sqrt(-2.0 * math.log(0.1))  # radius in standard deviations that holds 90 % of a plane Gaussian


def course_svg(
    scene: Scene,
    course: PlannedCourse | None = None,
    *,
    standalone: bool = True,
    unit: str = "cm",
    start: Pose | None = None,
    actions: Sequence[Action] = (),
    touches: Iterable[Touch] = (),
    landing: Landing | None = None,
    meetings: Sequence[Meeting] = (),
    tightest: dict[str, Any] | None = None,
    mend: dict[str, Any] | None = None,
    met: Sequence[tuple[int, float, float]] = (),
) -> str:
    """Draw a scene, and on it a course with its swept body.

    Parameters
    ----------
    course
        Drawn with its touches and its predicted landing; or give ``start`` and ``actions`` (and ``touches``,
        ``landing``) of a draft that is no course yet. Of several targets ``meetings`` has the landing at each.
    standalone
        True for a file of its own (brings its style), False for a part of a page.
    unit
        ``"cm"``, ``"in"`` or ``"mm"`` for the rulers.
    tightest
        The place that stops every course, as in ``NoCourseError``.
    mend
        What to move so that there is one, as there: its outline then, dashed, and an arrow with how far.
    met
        Where runs met their targets: number of the target, to the left and along (mm) from where it should be met.

    Returns
    -------
    str
        SVG with an accessible description.

    Examples
    --------
    >>> from motion.course.example import example_course
    >>> from motion.scene.example import example_scene
    >>> scene = example_scene()
    >>> drawing = course_svg(scene, start=scene.start, actions=example_course())
    >>> drawing[:4], "tide gate" in drawing, "A course of 3 legs is drawn." in drawing
    ('<svg', True, True)
    """
    if course is not None:
        start, actions = course.start, course.actions
        touches, landing = course.check.touches, landing or course.check.landing
        meetings = course.check.meetings
    start = start or scene.start
    sheet = ChartSheet(scene.width_mm, scene.depth_mm, unit)
    labels = Labels(LabelBox(0, 0, scene.width_mm, scene.depth_mm), sheet.font)
    for corner in scene.no_table:
        (left, near), (right, far) = corner.outline[::2]
        labels.taken.append(LabelBox(left, near, right, far))
    marks: list[str] = []
    if start is not None:
        marks += _course(scene, start, actions, labels, sheet)
    landings = [(scene.targets[met.target], met.landing) for met in meetings]
    for target, expected in landings or ([(scene.target, landing)] if landing else []):
        marks += _landing(scene, target, expected, sheet)
    marks += [
        sheet.circle(_met_at(scene, scene.targets[number], along, left), 0.26 * sheet.font, "chart-met")
        for number, left, along in met
    ]
    marks += [_touch(touch, sheet) for touch in touches]
    marks += _tightest(tightest, sheet, labels) if tightest else []
    marks += _mend(mend, sheet, labels) if mend else []
    body = [
        *grid(sheet),
        *(sheet.polygon(corner.outline, "chart-missing") for corner in scene.no_table),
        sheet.polygon(scene.base, "chart-base"),
        *(sheet.polygon(k.outline, "chart-keepout") for k in scene.keep_outs),
        *(sheet.polygon(o.outline, "chart-obstacle") for o in scene.obstacles),
        *(mark for target in scene.targets for mark in _target(scene, target, sheet)),
        *_sweeps(scene, start, actions, sheet),
        sheet.polygon(table_outline(scene.width_mm, scene.depth_mm, scene.missing), "chart-edge"),
        *marks,
        *_names(scene, labels, sheet),
        scale_bar(sheet),
        dial(sheet, start),
    ]
    said = escape(_description(scene, actions, sheet))
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="chart" viewBox="{sheet.view_box}" role="img" '
        f'aria-label="{said}"><desc>{said}</desc>'
    )
    style = f"<style>{STYLE}</style>" if standalone else ""
    return "".join([head, style, patterns(sheet), *body, "</svg>"])


def _course(scene: Scene, start: Pose, actions: Sequence[Action], labels: Labels, sheet: ChartSheet) -> list[str]:
    """The line that the axle's middle follows; each place where it stops bears the number of the step that ends there."""
    poses = poses_of(start, actions)
    marks, stops = [], [((start.x_mm, start.y_mm), "S")]
    pushes = [i for i, action in enumerate(actions) if isinstance(action, Push)]
    last = pushes[len(scene.targets) - 1] if len(pushes) >= len(scene.targets) else len(actions)
    home = False
    for step, (action, a, b) in enumerate(zip(actions, poses, poses[1:], strict=False), start=1):
        if not isinstance(action, Drive | Push):
            continue
        kind = "chart-line chart-line-home" if home else "chart-line"
        ends = (a.x_mm, a.y_mm), (b.x_mm, b.y_mm)
        marks.append(sheet.line(*ends, kind + (" chart-line-push" if isinstance(action, Push) else "")))
        labels.block_line(*ends, sheet.font * 0.4)
        home = home or step > last
        if all(math.dist(ends[1], stop) > sheet.font * 0.9 for stop, _ in stops):
            stops.append((ends[1], str(step)))
    for stop, word in stops:
        labels.block(*stop, sheet.font * 0.75)
        marks.append(sheet.badge(stop, word))
    if not actions:
        marks.append(_nose(start, sheet))
        reach = max(math.dist((0, 0), corner) for part in scene.robot.footprint for corner in part)
        labels.block_line((start.x_mm, start.y_mm), _ahead(start, reach), sheet.font)
    elif home:
        marks.append(sheet.circle((poses[-1].x_mm, poses[-1].y_mm), sheet.font * 0.85, "chart-home"))
    return marks


def _nose(pose: Pose, sheet: ChartSheet) -> str:
    return sheet.line((pose.x_mm, pose.y_mm), _ahead(pose, 2.4 * sheet.font), "chart-heading")


def _ahead(pose: Pose, distance_mm: float) -> Point:
    h = math.radians(pose.heading_deg)
    return pose.x_mm + distance_mm * math.cos(h), pose.y_mm + distance_mm * math.sin(h)


def _sweeps(scene: Scene, start: Pose | None, actions: Sequence[Action], sheet: ChartSheet) -> list[str]:
    if start is None:
        return []
    if not actions:
        return [sheet.polygon(_moved(part, start), "chart-robot") for part in scene.robot.footprint]
    return [
        sheet.polygon(ring, f"chart-sweep chart-sweep-{outline.action + 1}")
        for outline in swept_outlines(scene, start, actions)
        for ring in outline.rings
    ]


def _moved(part: Polygon, pose: Pose) -> Polygon:
    c, s = math.cos(math.radians(pose.heading_deg)), math.sin(math.radians(pose.heading_deg))
    return tuple((pose.x_mm + c * x - s * y, pose.y_mm + s * x + c * y) for x, y in part)


def _target(scene: Scene, target: Target, sheet: ChartSheet) -> list[str]:
    """A target where it stands, where it is to be pushed, and an arrow that shows which way."""
    aim = target.precontact
    u = math.cos(math.radians(aim.heading_deg)), math.sin(math.radians(aim.heading_deg))
    nose = pushing_nose(scene)
    ahead, left = nose.reach_mm + target.gap_mm, (-u[1], u[0])
    tip = aim.x_mm + u[0] * ahead + left[0] * nose.left_mm, aim.y_mm + u[1] * ahead + left[1] * nose.left_mm
    wing = sheet.font * 0.55
    arrow = (
        tip,
        (tip[0] - 1.6 * wing * u[0] - wing * u[1], tip[1] - 1.6 * wing * u[1] + wing * u[0]),
        (tip[0] - 1.6 * wing * u[0] + wing * u[1], tip[1] - 1.6 * wing * u[1] - wing * u[0]),
    )
    after = [sheet.polygon(target.pushed_body, "chart-target-after")]
    return [*after, sheet.polygon(target.body, "chart-target"), sheet.polygon(arrow, "chart-push")]


def _landing(scene: Scene, target: Target, landing: Landing, sheet: ChartSheet) -> list[str]:
    """Where nine runs in ten should meet a target."""
    x, y = _met_at(scene, target, landing.along_mm, landing.lateral_mm)
    (xx, xy), (_, yy) = landing.covariance_xy_mm2
    middle, half = (xx + yy) / 2, math.hypot((xx - yy) / 2, xy)
    big, small = math.sqrt(max(middle + half, 0)), math.sqrt(max(middle - half, 0))
    turn = -math.degrees(math.atan2(2 * xy, xx - yy) / 2)
    px, py = sheet.at((x, y))
    return [
        f'<ellipse class="chart-landing" cx="{px:.1f}" cy="{py:.1f}" rx="{max(big * NINE_IN_TEN, 4):.1f}" '
        f'ry="{max(small * NINE_IN_TEN, 4):.1f}" transform="rotate({turn:.2f} {px:.1f} {py:.1f})"/>'
    ]


def _met_at(scene: Scene, target: Target, along_mm: float, lateral_mm: float) -> Point:
    """Where the nose stands that is so far off where the target should be met."""
    aim = target.precontact
    h = math.radians(aim.heading_deg)
    nose = pushing_nose(scene)
    u, left = (math.cos(h), math.sin(h)), (-math.sin(h), math.cos(h))
    ahead, aside = nose.reach_mm + target.gap_mm + along_mm, nose.left_mm + lateral_mm
    return aim.x_mm + u[0] * ahead + left[0] * aside, aim.y_mm + u[1] * ahead + left[1] * aside


def _touch(touch: Touch, sheet: ChartSheet) -> str:
    arm = sheet.font * 0.5
    (x, y), words = (touch.x_mm, touch.y_mm), escape(str(touch.message))
    lines = [sheet.line((x - arm, y - k * arm), (x + arm, y + k * arm), "chart-touch-bar") for k in (-1, 1)]
    return f'<g class="chart-touch">{sheet.circle((x, y), arm * 1.7, "chart-touch-ring")}{"".join(lines)}<title>{words}</title></g>'


def _tightest(tightest: dict[str, Any], sheet: ChartSheet, labels: Labels) -> list[str]:
    segment = tightest.get("segment")
    if not segment:
        return []
    a, b = (tuple(map(float, end)) for end in segment)
    words = str(_("{size} here", size=numeral(sheet.measure(float(tightest["gap_mm"])))))
    spot = labels.place(words, LabelBox(min(a[0], b[0]), min(a[1], b[1]), max(a[0], b[0]), max(a[1], b[1])))
    return [sheet.line(a, b, "chart-tightest"), sheet.text(spot, words, "chart-label chart-label-tight")]  # type: ignore[arg-type]


def _mend(mend: dict[str, Any], sheet: ChartSheet, labels: Labels) -> list[str]:
    before, after = (tuple((float(x), float(y)) for x, y in mend[key]) for key in ("before", "after"))
    a, b = _middle(before), _middle(after)
    xs, ys = [x for x, _ in after], [y for _, y in after]
    label = str(kept(mend["label"]))
    spot = labels.place(label, LabelBox(min(xs), min(ys), max(xs), max(ys)))
    drawn = [sheet.polygon(after, "chart-mend"), sheet.text(spot, label, "chart-label chart-label-mend")]
    far = math.dist(a, b)
    if far < 1.0:
        return drawn
    u = (b[0] - a[0]) / far, (b[1] - a[1]) / far
    tip = a[0] + u[0] * max(far, 2.0 * sheet.font), a[1] + u[1] * max(far, 2.0 * sheet.font)  # long enough to be seen
    wing = 0.5 * sheet.font
    back = tip[0] - 1.4 * wing * u[0], tip[1] - 1.4 * wing * u[1]
    head = (tip, (back[0] - wing * u[1], back[1] + wing * u[0]), (back[0] + wing * u[1], back[1] - wing * u[0]))
    return [*drawn, sheet.line(a, back, "chart-mend-way"), sheet.polygon(head, "chart-mend-head")]


def _names(scene: Scene, labels: Labels, sheet: ChartSheet) -> list[str]:
    named: list[tuple[str, Polygon, str]] = [(str(_("base")), scene.base, "chart-label chart-label-base")]
    named += [(str(o.name), o.outline, "chart-label") for o in (*scene.obstacles, *scene.keep_outs) if o.name]
    names = _target_names(scene)
    if scene.more_targets and not scene.any_order:
        names = [f"{number} {name}" for number, name in enumerate(names, start=1)]  # in which order they are pushed
    for name, target in zip(names, scene.targets, strict=True):
        named.append((str(name), target.body, "chart-label chart-label-target"))
    for target in scene.targets:
        labels.taken.append(_around(target.pushed_body))
    placed = []
    for words, outline, kind in named:
        most = max(4, int(scene.width_mm / (0.6 * sheet.font)) - 1)  # a longer name would hang over the table
        words = words if len(words) <= most else f"{words[: most - 1].rstrip()}…"
        placed.append(sheet.text(labels.place(words, _around(outline)), words, kind))
    return placed


def _around(outline: Polygon) -> LabelBox:
    xs, ys = [p[0] for p in outline], [p[1] for p in outline]
    return LabelBox(min(xs), min(ys), max(xs), max(ys))


def _description(scene: Scene, actions: Sequence[Action], sheet: ChartSheet) -> str:
    things = in_line(", ", [o.name or _("an obstacle") for o in scene.obstacles] or [_("no obstacle")])
    targets = in_line(
        ", ",
        [
            _("{name} at {x} along and {y} up", name=name, x=_size(sheet, x), y=_size(sheet, y))
            for name, (x, y) in zip(_target_names(scene), (_middle(t.body) for t in scene.targets), strict=True)
        ],
    )
    size = _("{width} by {depth}", width=_size(sheet, scene.width_mm), depth=_size(sheet, scene.depth_mm))
    if scene.missing is not None:
        lacks = _(
            "{width} by {depth}", width=_size(sheet, scene.missing.width_mm), depth=_size(sheet, scene.missing.depth_mm)
        )
        size = _LACKS[scene.missing.corner].with_values(size=size, lacks=lacks)
    map_words = _("Map of the table, {size}: base, {targets}, {things}.", size=size, targets=targets, things=things)
    legs = sum(isinstance(a, Drive | Push) for a in actions)
    if not legs:
        return str(map_words)
    drawn = ngettext("A course of {n} leg is drawn.", "A course of {n} legs is drawn.", legs)
    return str(in_line(" ", [map_words, drawn]))


_LACKS = {
    "far left": _("{size} without its far left corner of {lacks}"),
    "far right": _("{size} without its far right corner of {lacks}"),
    "near right": _("{size} without its near right corner of {lacks}"),
}


def _size(sheet: ChartSheet, mm: float) -> str:
    return numeral(sheet.measure(mm))


def _target_names(scene: Scene) -> list[str]:
    if scene.more_targets:
        return [name_of(scene, i) for i in range(len(scene.targets))]
    return [scene.target.name or _("target")]


def _middle(outline: Polygon) -> Point:
    return sum(p[0] for p in outline) / len(outline), sum(p[1] for p in outline) / len(outline)
