"""One club as one file, to be taken to another installation."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from classroom.club.services.audit import note_in_audit
from classroom.errors import HelmroomError
from classroom.models import Club
from classroom.records.archive.seal import said_sum
from classroom.records.archive.write import TOOK_ARCHIVE, export_to_file
from config.management.one_row import one_row


class Command(BaseCommand):
    help = (
        "Writes a club's archive, also while helmroom runs. "
        "Example: manage.py export_club 'Saltmarsh Makers Club' /media/stick/saltmarsh.club.gz"
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("club", help="the club's name, or its number")
        parser.add_argument("file", type=Path, help="where to; a file that is not there yet")

    def handle(self, *args: Any, **options: Any) -> None:
        club = one_row(Club.objects.all(), "name", options["club"], "club", "nothing was written")
        now = timezone.now()
        try:
            made = export_to_file(club, options["file"], now=now)
        except (HelmroomError, OSError) as error:
            raise CommandError(str(error), returncode=2) from error
        note_in_audit(club, "command", TOOK_ARCHIVE, said_sum(made.digest), now=now)
        self.stdout.write(f"{options['file']}: {club}, {made.rows} rows of {len(made.counts)} kinds.")
        self.stdout.write(f"Its sum is {said_sum(made.digest)}; say it to whoever takes the club in.")
        self.stdout.write(
            "It names children: keep it as safe as the club's own computer. Nothing in it opens a door: passwords, second "
            "steps, teams' codes and PINs, links of families, calendar and invitations stay behind."
        )
