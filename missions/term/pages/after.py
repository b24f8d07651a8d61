"""After a session, on one page: what it left behind, and what is proposed for the next one."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from dataclasses import dataclass
from typing import Any
from zoneinfo import ZoneInfo

from django.db.models import Count, Q
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from classroom.models import Club, Robot, RobotState, SafetyCard, Session, Spare
from classroom.robots.robot_at import robots_at
from classroom.site.isolated import isolated
from classroom.site.tags import in_sentence
from missions.day.pages.teams import DayTeam, tables_of, teams_of_day
from missions.day.pages.today import robots_at_hand
from missions.day.sessions import sessions_of
from missions.ladder.rules.table_fit import shape_of_table
from missions.models import Attempt, Mission, Progress, ProgressChange, QuickNote, TierVersion
from missions.readiness.pages.tablet_need import named
from missions.readiness.services.evidence import read_answer, rule_for
from missions.term.pages.latest_work import latest_work
from missions.term.rules.proposal import (
    TablePlan,
    TeamNext,
    TeamStand,
    TierChoice,
    propose_tables,
    propose_teams,
)


@dataclass(frozen=True)
class TeamAfter:
    """What a team reached: its runs by tier in words, what a coach decided, and runs without a first cause."""

    day: DayTeam
    away: tuple[str, ...]
    reached: tuple[str, ...]
    decided: tuple[str, ...]
    to_look: tuple[tuple[int, str, int], ...]


@dataclass(frozen=True)
class NextProposal:
    """For the club's next session; without one it can be read, not taken over."""

    session: Session | None
    lines: tuple[TeamNext, ...]
    tables: tuple[TablePlan, ...]
    missions: tuple[Mission, ...]
    tiers: tuple[TierChoice, ...]


def after_page(session: Session, now: dt.datetime) -> dict[str, Any]:
    club = session.term.club
    teams = teams_of_day(session)
    cards = list(SafetyCard.objects.filter(club=club))
    day = timezone.localdate(session.starts_at)
    at_hand = robots_at_hand(session, teams)
    ran = Robot.objects.filter(attempts__session=session, club=club).distinct()
    return {
        "session": session,
        "teams": _teams_after(session, teams),
        "unmarked": sum(child.present is None for team in teams if not team.away for child in team.children),
        "charge": list(ran),
        "repair": [one.robot for one in at_hand if one.robot.state == RobotState.IN_REPAIR],
        "due": [(one.robot, note) for one in at_hand for note in one.due],
        "unchecked": [card for card in cards if card.checked_on != day],
        "notes": list(QuickNote.objects.filter(session=session).select_related("team", "by__user")),
        "to_buy": list(Spare.objects.filter(club=club).to_buy()),
        "proposal": proposal_after(session, now),
    }


def _teams_after(session: Session, teams: list[DayTeam]) -> list[TeamAfter]:
    runs = Attempt.objects.standing().filter(session=session).order_by("tier__mission__order", "tier__order")
    counted = runs.values_list("team", "tier", "tier__mission__title", "tier__order", "tier__name").annotate(
        n=Count("pk"),
        done=Count("pk", filter=Q(success=True)),
        unsaid=Count("pk", filter=Q(success=False, cause="")),
    )
    reached: dict[int, list[str]] = defaultdict(list)
    to_look: dict[int, list[tuple[int, str, int]]] = defaultdict(list)
    for team, tier, title, order, name, n, done, unsaid in counted:
        reached[team].append(
            ngettext(
                "%(mission)s, %(tier)s: %(clean)s of %(count)s run clean",
                "%(mission)s, %(tier)s: %(clean)s of %(count)s runs clean",
                n,
            )
            % {"mission": isolated(title), "tier": isolated(f"{order} {name}"), "clean": done, "count": n}
        )
        if unsaid:
            to_look[team].append((tier, f"{title}, {order} {name}", unsaid))
    decided: dict[int, list[str]] = defaultdict(list)
    for change in _decisions(session):
        words = _("kept on") if change.holds else in_sentence(change.get_to_state_display())
        tier = change.progress.tier
        decided[change.progress.team_id].append(f"{tier.mission.title}, {named(tier)}: {words}")
    return [
        TeamAfter(
            day=team,
            away=tuple(child.name for child in team.children if child.present is False),
            reached=tuple(reached[team.team.pk]),
            decided=tuple(decided[team.team.pk]),
            to_look=tuple(to_look[team.team.pk]),
        )
        for team in teams
    ]


def _decisions(session: Session) -> list[ProgressChange]:
    """Of the session's day, oldest first."""
    zone = ZoneInfo(session.term.club.time_zone)
    begins = dt.datetime.combine(session.starts_at.astimezone(zone).date(), dt.time(), zone)
    changes = ProgressChange.objects.filter(
        progress__team__club=session.term.club, at__gte=begins, at__lt=begins + dt.timedelta(days=1)
    )
    return list(changes.select_related("progress__tier__mission").order_by("at", "pk"))


def proposal_after(session: Session, now: dt.datetime) -> NextProposal:
    club = session.term.club
    coming = sessions_of(club).filter(starts_at__gt=max(session.starts_at, now)).order_by("starts_at").first()
    lines = propose_teams(_stands(club, now))
    tables = [(str(table), shape_of_table(table)) for table in tables_of(session)]
    keys = {line.tier.mission for line in lines}
    return NextProposal(
        session=coming,
        lines=tuple(lines),
        tables=tuple(propose_tables(lines, tables)),
        missions=tuple(Mission.objects.active().filter(club=club, pk__in=keys)),
        tiers=tuple(dict.fromkeys(line.tier for line in lines)),
    )


def _stands(club: Club, now: dt.datetime) -> list[TeamStand]:
    """In the club's order, by the rule as it reads the evidence now."""
    ladders: dict[int, list[TierVersion]] = defaultdict(list)
    for edition in TierVersion.objects.in_force().filter(tier__mission__club=club, tier__left_out_at=None):
        ladders[edition.tier.mission_id].append(edition)
    robots, at = robots_at(club, now), now.astimezone(ZoneInfo(club.time_zone))
    rows = sorted(latest_work(club).values(), key=lambda row: (row.team.order, row.team_id))
    found = []
    for row in rows:
        above = [each for each in ladders[row.tier.mission_id] if each.order >= row.tier.order]
        if not above:
            continue
        answer = read_answer(row.evidence, rule_for(club, above[0]), robots.get(row.team_id), at, row.marked_at)[1]
        found.append(
            TeamStand(
                team=row.team_id,
                name=row.team.name,
                on=_choice(above[0], row),
                answer=answer.code,
                why=answer.why,
                need=answer.need,
                held=row.held_at is not None,
                next=_choice(above[1], row) if len(above) > 1 else None,
            )
        )
    return found


def _choice(edition: TierVersion, row: Progress) -> TierChoice:
    version = edition.version
    return TierChoice(
        mission=row.tier.mission_id,
        tier=edition.tier_id,
        title=row.tier.mission.title,
        name=named(edition.tier),
        table=shape_of_table(version),
    )
