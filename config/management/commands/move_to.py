"""The whole installation goes on in another database."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.db import DatabaseError

from classroom.errors import HelmroomError
from classroom.records.move_database import move_to
from config.process.lock import AlreadyRunningError, FolderLock


class Command(BaseCommand):
    help = (
        "Copies everything into an empty database, SQLite or PostgreSQL, and compares each row. Leave a password to "
        "~/.pgpass rather than write it here. Example: manage.py move_to postgres://helmroom@127.0.0.1:5432/helmroom"
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("database_url", help="the empty database, as DATABASE_URL has it")

    def handle(self, *args: Any, **options: Any) -> None:
        lock = FolderLock(Path(settings.DATA_DIR))
        try:
            lock.take()
            moved = move_to(options["database_url"])
        except AlreadyRunningError as error:
            words = "helmroom is running on this data, and what is saved now would be lost. End it with Ctrl-C first."
            raise CommandError(words, returncode=2) from error
        except (HelmroomError, OSError) as error:
            raise CommandError(str(error), returncode=2) from error
        except DatabaseError as error:
            said = str(error).strip().splitlines()[:1] or ["no word why"]
            raise CommandError(f"A database is busy or away: {said[0]}. Try again.", returncode=2) from error
        finally:
            lock.release()
        for table, count in moved.counts.items():
            if count:
                self.stdout.write(f"{count:>9}  {table}")
        self.stdout.write(
            f"Moved to {moved.where}: {sum(moved.counts.values())} rows of {len(moved.counts)} tables, each read again "
            "there and the same."
        )
        self.stdout.write(
            "Now start helmroom with DATABASE_URL set to it, and with the same secret, so that browsers stay signed in. The "
            "old database stays as it was: keep it for a while, then delete it, since it names children."
        )
