"""A club of one's own: it is empty, and a link makes whoever opens it first its lead coach."""

from __future__ import annotations

import os
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.urls import reverse
from django.utils import timezone

from classroom.club.forms import NewClubForm
from classroom.club.services.open_club import open_club
from config.process.addresses import USUAL_PORT
from config.process.lock import said_address


class Command(BaseCommand):
    help = "Opens a new, empty club and prints the link by which its lead coach comes in."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("name", help="the club's name, in quotation marks")
        parser.add_argument("email", help="the lead coach's e-mail address, to sign in with")
        parser.add_argument("--unit", default="cm", help="what lengths are shown in: cm, in or mm")
        parser.add_argument("--time-zone", default="Europe/London", help="such as Europe/London")
        parser.add_argument("--address", default="", help="the site's address, where helmroom does not run here")

    def handle(self, *args: Any, **options: Any) -> None:
        form = NewClubForm({key: options[key] for key in ("name", "email", "unit", "time_zone")})
        if not form.is_valid():
            wrong = [f"{field}: {' '.join(map(str, errors))}" for field, errors in form.errors.items()]
            raise CommandError("Nothing was opened. " + " ".join(wrong))
        invitation, token = open_club(**form.cleaned_data, now=timezone.now())
        self.stdout.write(
            f"{invitation.club} is open. Whoever opens this link first leads it; it works once, until "
            f"{invitation.expires_at:%d %B %Y}:"
        )
        self.stdout.write(self._address(options["address"]) + reverse("join", args=[token]))

    def _address(self, given: str) -> str:
        """As given, else where helmroom says that it runs on this data, else where it will run when it is started."""
        port = os.environ.get("HELMROOM_PORT") or USUAL_PORT
        return (given or said_address(Path(settings.DATA_DIR)) or f"http://127.0.0.1:{port}").rstrip("/")
