"""The whole database as one file, while helmroom runs."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from classroom.errors import HelmroomError
from classroom.records.backup import backup


class Command(BaseCommand):
    help = (
        "Writes a copy of the database, also while helmroom runs. Example: manage.py backup /media/stick/helmroom.copy"
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path, help="where to; a file that is not there yet")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            counts = backup(options["file"])
        except (HelmroomError, OSError) as error:
            raise CommandError(str(error), returncode=2) from error
        self.stdout.write(
            f"{options['file']}: {sum(counts.values())} rows of {len(counts)} tables, opened and counted."
        )
        self.stdout.write("It names children: keep it as safe as the club's own computer, and delete it in time.")
