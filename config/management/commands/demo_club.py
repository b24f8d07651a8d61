"""Makes the demonstration club. Its sign-ins are made at random for this installation and written to the data folder."""

from __future__ import annotations

import datetime as dt
import secrets
from pathlib import Path
from typing import Any

import numpy as np
from django.conf import settings
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from classroom.models import Club
from config.demo.half_made import LEAD_EMAIL, begin_making, end_making, is_there, take_away_half_made
from config.demo.sign_ins import sign_in_lines
from config.process.lock import said_address
from config.process.supervisor import follow_parent

#: Of the demonstration that everybody sees.
SEED = 20261125


class Command(BaseCommand):
    help = "Makes the invented demonstration club."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--if-empty", action="store_true", help="do nothing when there is a club already")
        parser.add_argument("--seed", type=int, default=SEED)
        parser.add_argument(
            "--child", action="store_true", help="End with the process that started it (the supervisor)."
        )

    def handle(self, *args: Any, **options: Any) -> None:
        if options["child"]:
            follow_parent()
        take_away_half_made()
        if options["if_empty"] and Club.objects.exists():
            return
        if is_there():
            raise CommandError("There is a demonstration club already; nothing was changed.")
        begin_making()
        self.stdout.write("Making the demonstration club (invented): its robots are being driven ...")
        self.stdout.flush()
        end_making(make_demo_club(timezone.now(), seed=options["seed"], email=LEAD_EMAIL))
        for line in [*sign_in_lines(said_address(Path(settings.DATA_DIR))), ""]:
            self.stdout.write(line)


def make_demo_club(now: dt.datetime, *, seed: int, email: str) -> dict[str, str]:
    """In many short transactions, so that no page waits for it; ``config/demo/half_made.py`` knows when it is whole.

    Plans are checked where the kernels are ready; else they are kept unchecked, and the worker checks them once it can.
    """
    from config.demo.day import set_the_day  # late: an installation without it never loads it
    from config.demo.families import open_family_link  # late: an installation without it never loads it
    from config.demo.people import make_people  # late: an installation without it never loads it
    from config.demo.read_story import read_story  # late: an installation without it never loads it
    from config.demo.term import TermPlayer, make_missions  # late: an installation without it never loads it

    password = "-".join([*(secrets.choice(WORDS) for _ in range(4)), str(1000 + secrets.randbelow(9000))])
    cast = make_people(read_story(), now, email, password)
    editions = make_missions(cast)
    rng = np.random.default_rng(seed)
    TermPlayer(cast, editions, rng, now).play()
    set_the_day(cast, rng, now)
    link = open_family_link(cast, now)
    team = cast.teams["Curlew"]
    return {
        "coach_email": email,
        "coach_password": password,
        "team": team.name,
        "join_code": team.join_code,
        "pin": cast.pins["Curlew"],
        "family_link": link,
    }


WORDS = (
    "anchor barge beacon bollard brackish buoy causeway channel cockle cordgrass creek cutter delta dinghy driftwood dune "
    "ebb eelgrass estuary ferry fathom flood groyne gull harbour heron inlet jetty kelp ketch lagoon lantern ledge limpet "
    "lugworm marram mooring mudflat mussel neap oar oyster pebble pier pilot plank quay reed ripple rudder saltmarsh "
    "samphire sandbar schooner shingle shoal shrimp slack sluice spartina spring staithe strand swash tern tide tiller "
    "wharf whelk winkle withy"
).split()
