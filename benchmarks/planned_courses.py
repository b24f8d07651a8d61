"""The planner's courses for the ten sample scenes, planned once a process."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from motion.course.actions import PlannedCourse
from motion.scene.files import read_scene
from motion.scene.records import Scene
from motion.search.plan import plan_courses

SCENES = sorted((Path(__file__).parents[1] / "fixtures" / "scenes").glob("*.json"))


@cache
def planned(aim: str) -> tuple[tuple[str, Scene, PlannedCourse], ...]:
    """(name, scene, the first course) of every sample scene."""
    found = []
    for path in SCENES:
        scene = read_scene(path.read_text())
        found.append((path.stem, scene, plan_courses(scene, aim)[0]))
    return tuple(found)
