"""Plan a course for a scene file.

Exit 0 with a course; 2 when the file is bad (the place and what is allowed, on standard error); 3 when no clear course
exists (the reason).
"""

from __future__ import annotations

import json
import sys
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand

from motion.course.actions import PlannedCourse
from motion.course.files import course_to_dict
from motion.errors import NoCourseError, SceneError
from motion.scene.file_fields import printable
from motion.scene.files import read_scene
from motion.scene.records import Scene
from planning.courses.files import read_file
from planning.courses.rules.course_words import course_lines

BAD_FILE, NO_COURSE = 2, 3


class Command(BaseCommand):
    help = "Find a clear course for a scene file (helmroom.scene/1 or /2)."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("scene", metavar="SCENE.json")
        parser.add_argument("--aim", choices=["steadiest", "fastest", "simplest", "all"], default="steadiest")
        parser.add_argument(
            "--exact", action="store_true", help="Leave numbers as they come, not on the robot's steps."
        )
        parser.add_argument(
            "--most-actions", type=int, metavar="N", help="No course of more actions than this (any number by default)."
        )
        parser.add_argument("--json", action="store_true", help="Print helmroom.course/1.")
        parser.add_argument(
            "--picture", metavar="OUT.svg", help="Draw the first course, or the tightest place when there is none."
        )

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            scene = read_scene(read_file(options["scene"]))
        except SceneError as error:
            self.stderr.write(printable(f"{options['scene']}: {error}"))
            sys.exit(BAD_FILE)
        try:
            courses = self._plan(scene, options)
        except NoCourseError as plain:
            said = self._mended(scene, plain, options)
            self.stderr.write(printable(f"{options['scene']}: {said.message}"))
            if options["picture"]:
                self._draw(scene, options["picture"], tightest=said.tightest, mend=said.mend)
            sys.exit(NO_COURSE)
        if options["json"]:
            self.stdout.write(json.dumps(course_to_dict(scene, courses), indent=1))
        else:
            for course in courses:
                self.stdout.write("\n".join(course_lines(course)) + "\n")
        if options["picture"]:
            self._draw(scene, options["picture"], course=courses[0])

    def _plan(self, scene: Scene, options: dict[str, Any]) -> list[PlannedCourse]:
        from motion.search.plan import plan_courses  # late: a bad file is refused without loading the planner

        return plan_courses(scene, options["aim"], exact=options["exact"], most_actions=options["most_actions"])

    def _mended(self, scene: Scene, error: NoCourseError, options: dict[str, Any]) -> NoCourseError:
        from motion.search.mending import with_mend  # late: as above

        return with_mend(scene, error, exact=options["exact"])

    def _draw(self, scene: Scene, path: str, **drawn: Any) -> None:
        from motion.picture.chart import course_svg  # late: only when a picture is asked for

        try:
            Path(path).write_text(course_svg(scene, standalone=True, **drawn), encoding="utf-8")
        except OSError as error:
            self.stderr.write(printable(f"{path}: Cannot be written ({error.strerror}); choose another place."))
            sys.exit(BAD_FILE)
