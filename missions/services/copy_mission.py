"""A copy of a mission, to change without touching the first."""

from __future__ import annotations

import datetime as dt

from django.db import transaction

from classroom.models import Coach
from missions.models import Mission
from missions.services.edit_mission import newest_version, start_mission
from missions.services.mission_file import document_of
from missions.typical_robot import typical_nose


@transaction.atomic
def copy_mission(mission: Mission, *, coach: Coach, now: dt.datetime) -> Mission:
    """A new mission in the same club with the newest content as its first draft; no runs, no progress."""
    document = document_of(newest_version(mission), typical_nose(mission.club))
    titles = set(Mission.objects.active().filter(club=mission.club).values_list("title", flat=True))
    document["title"] = free_title(document["title"], titles)
    return start_mission(mission.club, coach, document, now=now)


def free_title(title: str, taken: set[str]) -> str:
    """``title`` if nobody has it, else with "(copy)", "(copy 2)" and so on, never over 60 characters."""
    if title not in taken:
        return title
    for n in range(1, len(taken) + 2):
        tail = " (copy)" if n == 1 else f" (copy {n})"
        found = title.removesuffix(" (copy)")[: 60 - len(tail)] + tail
        if found not in taken:
            return found
    raise AssertionError("more titles than missions")
