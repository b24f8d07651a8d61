"""One child is erased from one club."""

from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from classroom.models import Club, Member
from classroom.records.scrub import scrub_remains
from classroom.records.services.erase_child import erase_child


class Command(BaseCommand):
    help = "Erases a child: every row, sentence and line of the log. Example: manage.py erase_child 'Saltmarsh Makers Club' Robin"

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("club", help="the club's name, or its number")
        parser.add_argument("child", help="the child's first name or nickname, or its number where two have the same")

    def handle(self, *args: Any, **options: Any) -> None:
        club = _one(Club.objects.all(), "name", options["club"], "club")
        child = _one(Member.objects.filter(club=club), "nickname", options["child"], "child of that club")
        told = erase_child(child, "command", now=timezone.now())
        self.stdout.write(f"{club}: a child is erased. {told.words}")
        if scrub_remains():
            self.stdout.write(
                "The database's own files hold nothing of it any more. Daily copies go within seven days."
            )
        else:
            self.stdout.write(
                "Somebody is at the database; its free pages are cleaned tonight, or by “manage.py purge_expired”."
            )


def _one(rows: Any, name: str, said: str, what: str) -> Any:
    found = list(rows.filter(**{name: said})[:2]) or (list(rows.filter(pk=int(said))) if said.isdecimal() else [])
    if not found:
        raise CommandError(f"There is no {what} called “{said}”; nothing was erased.", returncode=2)
    if len(found) > 1:
        keys = ", ".join(str(key) for key in rows.filter(**{name: said}).order_by("pk").values_list("pk", flat=True))
        raise CommandError(f"More than one {what} is called “{said}”; say its number: {keys}.", returncode=2)
    return found[0]
