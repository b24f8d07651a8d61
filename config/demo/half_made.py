"""Telling a demonstration that is being made from a whole one, and taking away what was left half made.

It is made in many short transactions, so that pages are never kept waiting for one. From before the first of them until
after the last a file in the data folder says so; whatever ended the maker, the next start finds it.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from django.conf import settings
from django.db import transaction

from classroom.models import Club, User
from missions.models import Attempt
from planning.models import Course

LEAD_EMAIL = "coach@saltmarsh.example"


def sign_ins_file() -> Path:
    """How to sign in to the demonstration, in the data folder; there when it is whole."""
    return Path(settings.DATA_DIR) / "demo.json"


def _part_file() -> Path:
    return Path(settings.DATA_DIR) / "demo.part"


def is_being_made() -> bool:
    return _part_file().exists()


def is_there() -> bool:
    """Whole or half made."""
    return User.objects.filter(email=LEAD_EMAIL).exists()


def begin_making() -> None:
    sign_ins_file().unlink(missing_ok=True)
    _part_file().touch()


def end_making(sign_ins: dict[str, str]) -> None:
    """It is whole: write down how to sign in, for the eyes of this computer's user only."""
    fresh = sign_ins_file().with_suffix(".new")
    fresh.touch(mode=0o600)
    fresh.write_text(json.dumps(sign_ins, indent=1))
    fresh.replace(sign_ins_file())
    _part_file().unlink(missing_ok=True)


def take_away_half_made() -> bool:
    """Erase what a maker left that did not come to its end; whether there was one."""
    if not is_being_made():
        return False
    whole = sign_ins_file().exists()
    if not whole:
        for club in Club.objects.filter(is_demo=True, coaches__user__email=LEAD_EMAIL):
            _erase(club)
    _part_file().unlink(missing_ok=True)
    return not whole


@transaction.atomic
def _erase(club: Club) -> None:
    """Bottom up: what is protected hangs on to the rest."""
    of_team: dict[str, Any] = {"team__club": club}
    Course.objects.filter(**of_team).delete()
    Attempt.objects.filter(**of_team).delete()
    users = list(User.objects.filter(coach_roles__club=club))
    club.delete()
    for user in users:
        user.delete()
