"""The only way to a mission, tier, progress or attempt, and to what Today and Term change: tables, cautions, turns."""

from __future__ import annotations

from uuid import UUID

from django.http import Http404
from django.utils.translation import gettext as _

from classroom.access import TeamSeat, as_key, get_member, get_or_404, get_robot, get_team
from classroom.errors import ConflictError
from classroom.models import Coach, Member, Robot, SafetyCard, Session, Table, Team
from missions.errors import MissionsCode
from missions.models import Attempt, ChangeMark, Mission, Progress, ProgressState, RotaTurn, Tier, TierVersion


def get_mission(coach: Coach, pk: int) -> Mission:
    return get_or_404(Mission.objects.filter(club=coach.club), pk)


def get_tier(coach: Coach, pk: int) -> Tier:
    return get_or_404(Tier.objects.select_related("mission").filter(mission__club=coach.club), pk)


def get_attempt(coach: Coach, pk: int) -> Attempt:
    return get_or_404(Attempt.objects.select_related("team", "tier__mission").filter(team__club=coach.club), pk)


def current_tier_version(tier: Tier) -> TierVersion | None:
    """The tier as last published."""
    return (
        TierVersion.objects.select_related("version__mission", "tier")
        .filter(tier=tier)
        .exclude(version__published_at=None)
        .order_by("-version__number")
        .first()
    )


def get_open_tier(seat: TeamSeat, pk: int) -> Tier:
    """A tier that is open for this team; any other does not exist for it."""
    open_here = Progress.objects.filter(team=seat.team, state__in=[ProgressState.WORKING, ProgressState.PASSED])
    tier = Tier.objects.select_related("mission").filter(
        pk=pk, mission__club=seat.club, mission__archived_at=None, progress__in=open_here
    )
    found = tier.first()
    if found is None:
        raise Http404
    return found


def get_own_attempt(seat: TeamSeat, uuid: UUID) -> Attempt:
    found = Attempt.objects.select_related("tier_version__version").filter(team=seat.team, uuid=uuid).first()
    if found is None:
        raise Http404
    return found


def get_change_mark(team: Team, pk: int) -> ChangeMark:
    return get_or_404(ChangeMark.objects.select_related("team__club", "mission").filter(team=team), pk)


def get_table(coach: Coach, pk: int) -> Table:
    return get_or_404(Table.objects.filter(club=coach.club), pk)


def get_card(coach: Coach, pk: int) -> SafetyCard:
    return get_or_404(SafetyCard.objects.filter(club=coach.club), pk)


def get_turn(session: Session, pk: int) -> RotaTurn:
    """A turn of a session that the asker may change; planning again makes new ones, so an open page may be behind."""
    rows = RotaTurn.objects.select_related("session__term__club", "team", "table")
    turn = rows.filter(session=session, pk=pk).first()
    if turn is None:
        raise ConflictError(
            MissionsCode.TURN_GONE, _("That turn is no longer there: the rota was planned anew. Choose again.")
        )
    return turn


def chosen_team(coach: Coach, text: str) -> Team | None:
    """The team that a form names by number; None when it names none."""
    return get_team(coach, as_key(text)) if text else None


def chosen_robot(coach: Coach, text: str) -> Robot | None:
    return get_robot(coach, as_key(text)) if text else None


def chosen_member(coach: Coach, text: str) -> Member:
    return get_member(coach, as_key(text))
