"""Check every course of a course file against a scene file.

Exit 0 when all are clear; 1 when one is not (every touch is listed); 2 when a file is bad.
"""

from __future__ import annotations

import json
import sys
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand

from motion.course.files import read_course
from motion.errors import SceneError
from motion.scene.file_fields import printable
from motion.scene.files import read_scene
from planning.courses.files import read_file
from planning.courses.rules.course_json import check_to_json
from planning.courses.rules.course_words import check_lines

NOT_CLEAR, BAD_FILE = 1, 2


class Command(BaseCommand):
    help = "Check the courses of a file (helmroom.course/1) against a scene file (helmroom.scene/1 or /2)."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("scene", metavar="SCENE.json")
        parser.add_argument("course", metavar="COURSE.json")
        parser.add_argument("--json", action="store_true")

    def handle(self, *args: Any, **options: Any) -> None:
        reading = options["scene"]
        try:
            scene = read_scene(read_file(reading))
            reading = options["course"]
            drafts = read_course(read_file(reading), scene)
        except SceneError as error:
            self.stderr.write(printable(f"{reading}: {error}"))
            sys.exit(BAD_FILE)
        from motion.check import check_course  # late: a bad file is refused without loading the kernels

        checks = [check_course(scene, draft.start, draft.actions) for draft in drafts]
        if options["json"]:
            self.stdout.write(json.dumps({"checks": [check_to_json(check) for check in checks]}, indent=1))
        else:
            for draft, check in zip(drafts, checks, strict=True):
                self.stdout.write("\n".join(check_lines(draft.actions, draft.start, check)) + "\n")
        if not all(check.clear for check in checks):
            sys.exit(NOT_CLEAR)
