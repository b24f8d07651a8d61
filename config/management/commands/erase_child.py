"""One child is erased from one club."""

from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand
from django.utils import timezone

from classroom.models import Club, Member
from classroom.records.scrub import scrub_remains
from classroom.records.services.erase_child import erase_child
from config.management.one_row import one_row

NOTHING = "nothing was erased"


class Command(BaseCommand):
    help = "Erases a child: every row, sentence and line of the log. Example: manage.py erase_child 'Saltmarsh Makers Club' Robin"

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("club", help="the club's name, or its number")
        parser.add_argument("child", help="the child's first name or nickname, or its number where two have the same")

    def handle(self, *args: Any, **options: Any) -> None:
        club = one_row(Club.objects.all(), "name", options["club"], "club", NOTHING)
        child = one_row(Member.objects.filter(club=club), "nickname", options["child"], "child of that club", NOTHING)
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
