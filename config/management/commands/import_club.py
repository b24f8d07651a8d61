"""A club from another installation comes in."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.db import OperationalError
from django.utils import timezone

from classroom.errors import HelmroomError
from classroom.people.services.first_password import first_password_path
from classroom.records.archive.seal import said_sum
from classroom.records.services.import_club import CameIn, import_club
from config.process.lock import said_address


class Command(BaseCommand):
    help = (
        "Takes a club in from its archive, whole or not at all. Only from whom you trust. "
        "Example: manage.py import_club /media/stick/saltmarsh.club.gz --sum 0123-4567-89ab-cdef-0123"
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path, help="what “manage.py export_club” or the club's page has written")
        parser.add_argument("--sum", default="", help="refuse any archive but the one with this sum")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            with options["file"].open("rb") as file:
                came = import_club(file, said_sum=options["sum"], now=timezone.now())
        except (HelmroomError, OSError) as error:
            raise CommandError(str(error), returncode=2) from error
        except OperationalError as error:
            raise CommandError("The database is busy or away; nothing was changed. Try again.", returncode=2) from error
        self._tell(came)

    def _tell(self, came: CameIn) -> None:
        self.stdout.write(f"{came.club} is here: {came.rows} rows of {len(came.head.counts)} kinds, counted again.")
        made = f"{came.head.made_at:%d %B %Y}; its sum is {said_sum(came.head.digest)}"
        if came.head.made_here:
            self.stdout.write(f"The archive was made here, on {made}.")
        else:
            self.stdout.write(
                f"The archive was made elsewhere, on {made}. Ask whoever made it whether that is the sum."
            )
        if came.known:
            names = ", ".join(coach.user.email for coach in came.known)
            self.stdout.write(f"With the account that they have here come in: {names}.")
        if came.to_let_in:
            address = (said_address(Path(settings.DATA_DIR)) or settings.HELMROOM_ADDRESS).rstrip("/")
            self.stdout.write("Hand each of these links to its coach; it sets a password, once and within three days:")
            for coach in came.to_let_in:
                self.stdout.write(f"  {coach.user.email}  {address}{first_password_path(coach.user)}")
        self.stdout.write(
            "Now print the teams' sign-in cards (all have new codes and no PIN), and give families new links."
        )
