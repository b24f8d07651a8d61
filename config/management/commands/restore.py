"""A copy put back into an empty data folder or database."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from classroom.errors import HelmroomError
from classroom.records.backup import restore
from config.process.lock import AlreadyRunningError, FolderLock


class Command(BaseCommand):
    help = (
        "Puts a copy back into an empty data folder or database. Example: manage.py restore /media/stick/helmroom.copy"
    )
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path, help="what “manage.py backup” has written")

    def handle(self, *args: Any, **options: Any) -> None:
        lock = FolderLock(Path(settings.DATA_DIR))
        try:
            lock.take()
            counts = restore(options["file"])
        except AlreadyRunningError as error:
            raise CommandError("helmroom is running on this data. End it with Ctrl-C first.", returncode=2) from error
        except (HelmroomError, OSError) as error:
            raise CommandError(str(error), returncode=2) from error
        finally:
            lock.release()
        self.stdout.write(f"Restored: {sum(counts.values())} rows of {len(counts)} tables, counted again after it.")
