"""The only way to what Today and Term change: tables, cautions, turns."""

from __future__ import annotations

from classroom.access import as_key, get_member, get_or_404, get_robot, get_team
from classroom.errors import ConflictError
from classroom.models import Coach, Member, Robot, SafetyCard, Session, Table, Team
from missions.models import RotaTurn


def get_table(coach: Coach, pk: int) -> Table:
    return get_or_404(Table.objects.filter(club=coach.club), pk)


def get_card(coach: Coach, pk: int) -> SafetyCard:
    return get_or_404(SafetyCard.objects.filter(club=coach.club), pk)


def get_turn(session: Session, pk: int) -> RotaTurn:
    """A turn of a session that the asker may change; planning again makes new ones, so an open page may be behind."""
    rows = RotaTurn.objects.select_related("session__term__club", "team", "table")
    turn = rows.filter(session=session, pk=pk).first()
    if turn is None:
        raise ConflictError("turn_gone", "That turn is no longer there: the rota was planned anew. Choose again.")
    return turn


def chosen_team(coach: Coach, text: str) -> Team | None:
    """The team that a form names by number; None when it names none."""
    return get_team(coach, as_key(text)) if text else None


def chosen_robot(coach: Coach, text: str) -> Robot | None:
    return get_robot(coach, as_key(text)) if text else None


def chosen_member(coach: Coach, text: str) -> Member:
    return get_member(coach, as_key(text))
