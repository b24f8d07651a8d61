"""Each team as it is in one session: who is here, with which robot, on which tier. The same queries whatever the size."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, NamedTuple

from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext_lazy

from classroom.models import (
    Attendance,
    Membership,
    Robot,
    RobotState,
    Session,
    Table,
    Team,
)
from classroom.robots.robot_at import InHand, robots_in_hand
from missions.ladder.rules.layouts import layout_of
from missions.models import PlannedMission, Progress, ProgressState, TeamDay, Tier, TierVersion


@dataclass(frozen=True)
class Child:
    """A member in a session; ``present`` is None until somebody has marked it.

    A state is a shape and a word; ``tap`` is what the next tap makes of it. Plain attributes, since a page has hundreds.
    """

    present: bool | None
    name: str
    key: str
    state: str
    shape: str
    words: str
    tap: str

    @classmethod
    def of(cls, member: int, name: str, present: bool | None) -> Child:
        state, shape, words, tap = _STATES[present]
        return cls(present, name, str(member), state, shape, str(words), tap)


_STATES: dict[bool | None, tuple[str, str, Any, str]] = {
    None: ("open", "○", gettext_lazy("not marked"), "here"),
    True: ("here", "✓", gettext_lazy("here"), "away"),
    False: ("away", "–", gettext_lazy("not here"), "here"),
}


@dataclass(frozen=True)
class DayTeam:
    """A team in a session. ``why`` says why it needs a look, if it does.

    ``robot`` is at hand; ``resting`` is the team's own that is not, because it rests or is in repair.
    """

    team: Team
    children: tuple[Child, ...]
    robot: Robot | None
    is_lent: bool
    tier: Tier | None
    tier_version: TierVersion | None
    layout: str
    away: bool
    late_until: dt.datetime | None
    needs_look: bool
    why: str
    resting: Robot | None = None

    @property
    def is_here(self) -> bool:
        """Taken to be here until somebody says otherwise: the coach, or every child marked as not here."""
        if self.away or self.tier_version is None:
            return False
        return not self.children or any(child.present is not False for child in self.children)

    @property
    def is_marked(self) -> bool:
        return any(child.present is not None for child in self.children)


def teams_of_day(session: Session, planned: Iterable[int] | None = None) -> list[DayTeam]:
    """Every active team of the session's club, in the club's order. ``planned`` are the day's missions, where they are known."""
    club = session.term.club_id
    day = timezone.localdate(session.starts_at)
    teams = Team.objects.filter(club=club).active()
    members = Membership.objects.filter(Q(left_on=None) | Q(left_on__gte=day), joined_on__lte=day, team__club=club)
    marks = dict(Attendance.objects.filter(session=session).values_list("member", "present"))
    children: dict[int, list[Child]] = defaultdict(list)
    for team, member, name in members.order_by("member__nickname", "pk").values_list(
        "team", "member", "member__nickname"
    ):
        children[team].append(Child.of(member, name, marks.get(member)))
    days = {day.team_id: day for day in TeamDay.objects.filter(session=session)}
    held = robots_in_hand(session.term.club, session, session.starts_at)
    if planned is None:
        planned = PlannedMission.objects.filter(session=session).values_list("mission", flat=True)
    tier_of = _TierOfDay(list(dict.fromkeys(planned)), club)
    return [_day_team(team, tuple(children[team.pk]), days.get(team.pk), held.get(team.pk), tier_of) for team in teams]


def _day_team(
    team: Team, children: tuple[Child, ...], day: TeamDay | None, held: InHand | None, tier_of: _TierOfDay
) -> DayTeam:
    at_hand = held if held and (held.is_lent or held.robot.state == RobotState.IN_SERVICE) else None
    found, progress = tier_of(team)
    return DayTeam(
        team=team,
        children=children,
        robot=at_hand.robot if at_hand else None,
        is_lent=at_hand is not None and at_hand.is_lent,
        tier=found.tier if found else None,
        tier_version=found,
        layout=layout_of(found) if found else "",
        away=bool(day and day.away),
        late_until=day.late_until if day else None,
        needs_look=progress is not None and progress.answer == "look",
        why=progress.why if progress else "",
        resting=held.robot if held and at_hand is None else None,
    )


def who_plays(teams: list[DayTeam]) -> list[DayTeam]:
    """The teams that the rota shares tables out to: here, with a robot at hand and with children.

    A club that has put down no robots, or no children, is not asked for them.
    """
    here = [team for team in teams if team.is_here]
    asks_robot = any(team.robot or team.resting for team in here)
    asks_children = any(team.children for team in here)
    return [team for team in here if (team.robot or not asks_robot) and (team.children or not asks_children)]


class _Standing(NamedTuple):
    """A team in a tier, as far as the day needs it: a tuple, since a large club has a thousand."""

    tier_id: int
    state: str
    answer: str
    why: str
    updated_at: dt.datetime


class _TierOfDay:
    """The tier a team works on: the first that it works on in the first mission of the plan.

    Passed all of it, a team stays on the last tier; not begun, it has the first. Without a plan it is the tier that the
    team worked on last, in whichever mission.
    """

    def __init__(self, planned: list[int], club: int) -> None:
        self.planned = planned
        published = TierVersion.objects.filter(
            tier__mission__club=club, tier__mission__archived_at=None, tier__left_out_at=None
        )
        if self.planned:
            published = published.filter(tier__mission__in=self.planned)
        published = published.exclude(version__published_at=None).select_related("tier__mission", "version")
        newest: dict[int, TierVersion] = {}
        for tier_version in published.order_by("version__number"):
            newest[tier_version.tier_id] = tier_version
        self.newest = newest
        self.ladder: dict[int, list[TierVersion]] = defaultdict(list)
        for tier_version in sorted(newest.values(), key=lambda v: v.tier.order):
            self.ladder[tier_version.tier.mission_id].append(tier_version)
        rows = Progress.objects.filter(tier__in=list(newest)).order_by()
        self.progress: dict[int, dict[int, _Standing]] = defaultdict(dict)
        for team, tier, state, answer, why, at in rows.values_list(
            "team", "tier", "state", "answer", "why", "updated_at"
        ):
            self.progress[team][tier] = _Standing(tier, state, answer, why, at)

    def __call__(self, team: Team) -> tuple[TierVersion | None, _Standing | None]:
        own = self.progress[team.pk]
        if not self.planned:
            working = [row for row in own.values() if row.state == ProgressState.WORKING]
            last = max(working, key=lambda row: row.updated_at, default=None)
            return (self.newest[last.tier_id], last) if last else self._first_of_all()
        for mission in self.planned:
            for tier_version in self.ladder[mission]:
                row = own.get(tier_version.tier_id)
                if row is not None and row.state == ProgressState.WORKING:
                    return tier_version, row
        for mission in self.planned:
            ladder = self.ladder[mission]
            passed = [v for v in ladder if v.tier_id in own and own[v.tier_id].state == ProgressState.PASSED]
            if len(passed) < len(ladder):
                return passed[-1] if passed else ladder[0], None
        ends = [self.ladder[mission][-1] for mission in self.planned if self.ladder[mission]]
        return (ends[0], None) if ends else (None, None)

    def _first_of_all(self) -> tuple[TierVersion | None, _Standing | None]:
        ladders = sorted(
            self.ladder.values(), key=lambda ladder: (ladder[0].tier.mission.order, ladder[0].tier.mission_id)
        )
        return (ladders[0][0], None) if ladders else (None, None)


def tables_of(session: Session) -> list[Table]:
    """The club's tables that are still used."""
    return list(Table.objects.filter(club=session.term.club_id, retired_at=None))
