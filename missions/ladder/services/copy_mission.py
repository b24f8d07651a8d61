"""A copy of a mission, to change without touching the first; also one that comes from a file."""

from __future__ import annotations

import datetime as dt

from django.db import transaction
from django.utils.translation import gettext as _

from classroom.models import Club, Coach
from missions.ladder.mission_file import Document, document_of
from missions.ladder.rules.typical_robot import typical_nose
from missions.ladder.services.edit_mission import newest_version, start_mission
from missions.models import Mission


@transaction.atomic
def copy_mission(mission: Mission, *, coach: Coach, now: dt.datetime) -> Mission:
    """A new mission in the same club with the newest content as its first draft; no runs, no progress."""
    document = document_of(newest_version(mission), typical_nose(mission.club))
    return start_under_free_title(mission.club, coach, document, now=now)


@transaction.atomic
def start_under_free_title(club: Club, coach: Coach, document: Document, *, now: dt.datetime) -> Mission:
    """A new mission from a document, with another title when one of the club has its own already."""
    titles = set(Mission.objects.active().filter(club=club).values_list("title", flat=True))
    return start_mission(club, coach, document | {"title": free_title(document["title"], titles)}, now=now)


def free_title(title: str, taken: set[str]) -> str:
    """``title`` if nobody has it, else with "(copy)", "(copy 2)" and so on, never over 60 characters."""
    if title not in taken:
        return title
    for n in range(1, len(taken) + 2):
        tail = _(" (copy)") if n == 1 else _(" (copy %(number)s)") % {"number": n}
        found = title.removesuffix(_(" (copy)"))[: 60 - len(tail)] + tail
        if found not in taken:
            return found
    raise AssertionError("more titles than missions")
