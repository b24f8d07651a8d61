"""The planner's courses for the ten sample scenes, planned once a process."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from motion.plan import plan_courses
from motion.route import Course
from motion.scene import Scene
from motion.scene_file import read_scene

SCENES = sorted((Path(__file__).parent / "scenes").glob("*.json"))


@cache
def planned(aim: str) -> tuple[tuple[str, Scene, Course], ...]:
    """(name, scene, the first course) of every sample scene."""
    found = []
    for path in SCENES:
        scene = read_scene(path.read_text())
        found.append((path.stem, scene, plan_courses(scene, aim)[0]))
    return tuple(found)
