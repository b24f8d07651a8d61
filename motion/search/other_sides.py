"""Ways out round the other side of what stands on the table, where all ways that are known pass it on one side.

A search keeps its cheapest ways, and they may all go round an obstacle on the same side though the other is steadier. So
for each obstacle and keep-out a dam is thought of, from its middle to an edge of the table, that bars every known way;
what the search finds then is a way without the dam too.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

import shapely

from motion.scene.checks import scene_problems
from motion.scene.records import Obstacle, Polygon, Scene
from motion.search.parts import Part, PartFinder
from motion.search.phases import Caution

#: Among more outlines than this a search for each would take longer than all others together.
MOST_OUTLINES = 6
#: Half as thick is a dam, mm; and as many ways round the other side are taken.
HALF_MM, WAYS = 10.0, 2
EFFORT = 0.4


def outs_round_other_sides(finder: PartFinder, known: Sequence[Part], caution: Caution) -> list[Part]:
    """Ways out that pass an outline on the side that no known one passes it on; none among many outlines.

    Parameters
    ----------
    known
        Ways out, at least one.
    caution
        What the searches pay for.
    """
    scene = finder.scene
    things = (*scene.obstacles, *scene.keep_outs)
    if len(things) > MOST_OUTLINES:
        return []
    found: list[Part] = []
    for thing in things:
        for barred in _barred(scene, thing.outline, [*known, *found]):
            there = PartFinder(barred, exact=finder.exact, seed=finder.seed, tick=finder.tick, stop=finder.phases.stop)
            there.push_over_mm = finder.push_over_mm
            outs = there.outs(caution, WAYS, EFFORT)
            if outs:
                found += outs
                break
    return found


def _barred(scene: Scene, outline: Polygon, known: Sequence[Part]) -> Iterator[Scene]:
    """The scene with each dam across all known ways; none where they pass the outline on both sides, or no dam can stand."""
    lines = [
        shapely.LineString([(part.start.x_mm, part.start.y_mm), *part.way.points]) for part in known if part.way.points
    ]
    for dam in dams(scene, outline):
        across = shapely.Polygon(dam.outline)
        if lines and all(across.intersects(line) for line in lines):
            barred = replace(scene, obstacles=(*scene.obstacles, dam))
            if not scene_problems(barred):
                yield barred


def dams(scene: Scene, outline: Polygon) -> Iterator[Obstacle]:
    """Thin walls from the middle of an outline to the left, right, near and far edge of the table.

    >>> from motion.scene.example import example_scene
    >>> left, *others = dams(example_scene(), ((400, 300), (600, 300), (600, 500), (400, 500)))
    >>> left.outline
    ((0.0, 390.0), (500.0, 390.0), (500.0, 410.0), (0.0, 410.0))
    """
    middle = shapely.Polygon(outline).centroid
    x, y = float(middle.x), float(middle.y)
    for x0, y0, x1, y1 in (
        (0.0, y - HALF_MM, x, y + HALF_MM),
        (x, y - HALF_MM, float(scene.width_mm), y + HALF_MM),
        (x - HALF_MM, 0.0, x + HALF_MM, y),
        (x - HALF_MM, y, x + HALF_MM, float(scene.depth_mm)),
    ):
        yield Obstacle(((x0, y0), (x1, y0), (x1, y1), (x0, y1)), "dam")
