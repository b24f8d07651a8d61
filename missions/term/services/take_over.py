"""What is proposed after a session, taken over into the next one with one tap, as far as the coach left it ticked."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection
from dataclasses import dataclass

from django.db import transaction

from classroom.errors import ConflictError
from classroom.models import Coach, Team
from classroom.people.names import one_line
from missions.day.services.run_session import LONGEST_NOTE, write_note
from missions.errors import MissionsCode
from missions.models import Mission, PlannedMission, QuickNote, Tier
from missions.readiness.services.progress import open_tier
from missions.term.pages.after import NextProposal
from missions.term.services.plan_term import plan_missions


@dataclass(frozen=True)
class TakenOver:
    """What was done, to be told."""

    planned: int
    opened: int
    noted: int

    @property
    def words(self) -> str:
        parts = (
            (self.planned, "mission planned", "missions planned"),
            (self.opened, "tier opened", "tiers opened"),
            (self.noted, "note left", "notes left"),
        )
        said = [f"{count} {one if count == 1 else many}" for count, one, many in parts if count]
        return f"Taken over: {', '.join(said)}." if said else "All of it was taken over already."


@transaction.atomic
def take_over(
    proposal: NextProposal,
    coach: Coach,
    *,
    missions: Collection[int],
    opens: Collection[int],
    with_coach: Collection[int],
    now: dt.datetime,
) -> TakenOver:
    """Plan the missions, open the harder tiers, and leave a note for whom to sit down with. Doing it twice is doing it once.

    ``opens`` and ``with_coach`` are teams. What is no longer proposed is left alone.

    Raises
    ------
    ConflictError
        ``no_next_session``, and as ``open_tier`` when somebody was quicker.
    """
    session = proposal.session
    if session is None:
        raise ConflictError(
            MissionsCode.NO_NEXT_SESSION, "No session is planned after this one. Add one to the term first."
        )
    had = list(PlannedMission.objects.filter(session=session).values_list("mission", flat=True))
    fresh = [mission.pk for mission in proposal.missions if mission.pk in missions and mission.pk not in had]
    if fresh:
        kept = Mission.objects.in_bulk([*had, *fresh])
        plan_missions(session, [kept[key] for key in dict.fromkeys([*had, *fresh])], now=now)
    opened = noted = 0
    for line in proposal.lines:
        team = Team.objects.get(pk=line.team, club=coach.club)
        if line.opens and line.team in opens:
            open_tier(coach, team, Tier.objects.get(pk=line.tier.tier), "", now, pass_below=True)
            opened += 1
        if line.with_coach and line.team in with_coach:
            text = one_line(f"Sit down together: {line.reason}"[:LONGEST_NOTE])  # as a note is kept, to know it again
            if not QuickNote.objects.filter(session=session, team=team, text=text).exists():
                write_note(session, coach, text, team, now=now)
                noted += 1
    return TakenOver(len(fresh), opened, noted)
