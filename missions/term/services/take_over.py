"""What is proposed after a session, taken over into the next one with one tap, as far as the coach left it ticked."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection
from dataclasses import dataclass

from django.db import transaction
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

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
            (self.planned, ngettext("%(count)s mission planned", "%(count)s missions planned", self.planned)),
            (self.opened, ngettext("%(count)s tier opened", "%(count)s tiers opened", self.opened)),
            (self.noted, ngettext("%(count)s note left", "%(count)s notes left", self.noted)),
        )
        said = [words % {"count": count} for count, words in parts if count]
        if not said:
            return _("All of it was taken over already.")
        return _("Taken over: %(list)s.") % {"list": ", ".join(said)}


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
            MissionsCode.NO_NEXT_SESSION, _("No session is planned after this one. Add one to the term first.")
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
            text = _("Sit down together: %(why)s") % {"why": line.reason}
            text = one_line(text[:LONGEST_NOTE])  # as a note is kept, to know it again
            if not QuickNote.objects.filter(session=session, team=team, text=text).exists():
                write_note(session, coach, text, team, now=now)
                noted += 1
    return TakenOver(len(fresh), opened, noted)
