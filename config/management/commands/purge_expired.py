"""What has outlived its date is deleted, now."""

from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand
from django.utils import timezone

from classroom.records.scrub import scrub_remains
from classroom.records.services.purge_expired import purge_expired


class Command(BaseCommand):
    help = "Deletes what is kept no longer (the worker does it each night). Example: manage.py purge_expired --dry-run"

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--dry-run", action="store_true", help="only say what would go")

    def handle(self, *args: Any, **options: Any) -> None:
        dry = options["dry_run"]
        told = purge_expired(timezone.now(), dry_run=dry)
        for what, count in told.rows.items():
            self.stdout.write(f"{count:>7}  {what}")
        if told.children:
            self.stdout.write(f"{told.children:>7}  children who left long ago, with all that is kept of them")
        if told.nothing:
            self.stdout.write("Nothing is past its date.")
        self.stdout.write("Nothing was deleted: this was only a look." if dry else "All of that is deleted.")
        if not dry and not scrub_remains():
            self.stdout.write("Somebody is at the database; its free pages are cleaned another night.")
