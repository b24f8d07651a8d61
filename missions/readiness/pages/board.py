"""The readiness board: teams x tiers of a mission, and who needs the coach now.

The evidence is kept in Progress, so reading costs one look at each team and tier, whatever the history.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace
from zoneinfo import ZoneInfo

from django.utils.translation import gettext_lazy

from classroom.models import Club, Team
from classroom.robots.robot_at import HeldRobot, robots_at
from classroom.site.wall_names import letters_of_longest_word
from missions.models import Mission, Progress, ProgressChange, ProgressState, Tier, TierVersion
from missions.readiness.rules.evidence import Rule
from missions.readiness.rules.needs import ORDER, Need, ProgressRow, TeamRobot, TeamWithRobot, needs_of
from missions.readiness.rules.standing import BoardCell, BoardTier, cell_of
from missions.readiness.services.evidence import changed_at, read_answer, rule_for, said_runs

SHOW = ("all", "needed", "ready", "working", "too_few")
#: A club of up to so many teams has every line of its board open; a larger one is seen at a glance.
FEW_TEAMS = 8
#: What a team is needed for, as one word on its line.
NEED_WORDS = {
    "stuck": gettext_lazy("stuck"),
    "slipping_back": gettext_lazy("slipping"),
    "same_miss": gettext_lazy("same miss"),
    "ready": gettext_lazy("ready"),
    "left_out": gettext_lazy("tier gone"),
    "no_robot": gettext_lazy("no robot"),
    "uncalibrated": gettext_lazy("uncalibrated"),
    "gone_quiet": gettext_lazy("quiet"),
}


@dataclass(frozen=True)
class BoardRow:
    """``is_open``: shown whole, not in one line; ``toggled`` are the teams whose rows are open after a press on it."""

    team: TeamWithRobot
    cells: Sequence[BoardCell]
    is_open: bool = True
    need: str = ""
    toggled: str = ""

    @property
    def working(self) -> list[BoardCell]:
        """The tiers that there is something to say about under the row."""
        return [cell for cell in self.cells if cell.state == "working"]

    @property
    def line_key(self) -> str:
        """All that its one line hangs on."""
        cells = [
            (
                cell.rung.tier.pk,
                cell.rung.tier.name,
                cell.chip.word,
                cell.state,
                cell.found and (cell.found.successes, cell.found.of),
            )
            for cell in self.cells
        ]
        return repr((self.team.team_id, self.team.name, self.need, self.toggled, cells))


@dataclass(frozen=True)
class Choice:
    """A mission in the switch, and whether a team needs the coach in it."""

    mission: Mission
    needed: bool


@dataclass(frozen=True)
class LeftOut:
    """A tier that is no longer offered, with the teams that had it open: (name, cell)."""

    tier: Tier
    cells: Sequence[tuple[str, BoardCell]]


@dataclass(frozen=True)
class Fold:
    """Which rows are asked to be open; None for what is usual in a club of this size."""

    opened: frozenset[int] | None = None


#: A name whose longest word has more letters leaves no room for tiers beside it on a wall.
LONGEST_BESIDE_TIERS = 12


@dataclass(frozen=True)
class Board:
    mission: Mission | None
    choices: Sequence[Choice]
    rungs: Sequence[BoardTier]
    rows: Sequence[BoardRow]
    needs: Sequence[Need]
    counts: dict[str, int]
    teams: int
    show: str = "all"
    on: dt.date | None = None
    left_out: Sequence[LeftOut] = ()
    is_folded: bool = False

    @property
    def has_lines(self) -> bool:
        return any(not row.is_open for row in self.rows)

    @property
    def needing(self) -> int:
        """How many teams need the coach now: the one count of it, in whatever mission they do."""
        return len({need.team_id for need in self.needs})

    @property
    def has_long_names(self) -> bool:
        """Whether names have lines of their own on the wall, above their tiers."""
        return letters_of_longest_word(row.team.name for row in self.rows) > LONGEST_BESIDE_TIERS


def read_board(
    club: Club, now: dt.datetime, mission_id: int | None = None, show: str = "all", fold: Fold | None = None
) -> Board | None:
    """The board of one mission: the one asked for, else the open one that was run last. None when there is no such.

    With ``fold`` its rows are lines to open, who needs the coach first; without, all of it in table order.
    """
    now = now.astimezone(ZoneInfo(club.time_zone))
    missions = list(Mission.objects.filter(club=club).published())
    working = [ProgressRow(*row) for row in Progress.objects.for_needs(club.pk).filter(state=ProgressState.WORKING)]
    mission = _chosen(missions, working, mission_id)
    if mission is None and mission_id is not None:
        return None
    held = robots_at(club, now)
    teams = [with_robot(team, held.get(team.pk), now) for team in Team.objects.filter(club=club).active()]
    needs = needs_of(teams, working, now, Rule.of(club.readiness_policy).quiet_days)
    needed_in = {need.mission_id for need in needs}
    needing = {need.team_id for need in needs}
    choices = [Choice(one, one.pk in needed_in) for one in missions]
    rungs = rungs_of(club, mission) if mission else []
    progress = list(Progress.objects.of_mission(mission)) if mission else []
    opened = _opened(fold, teams)
    rows = _rows(club, mission, rungs, teams, held, progress, now, opened) if mission else []
    if fold is not None and opened is not None:
        rows = _in_lines(rows, needs, opened)
    counts = {name: sum(_answers(row, name, needing) for row in rows) for name in SHOW}
    shown = [row for row in rows if _answers(row, show, needing)]
    left_out = _left_out(club, rungs, teams, held, progress, now)
    folded = fold is not None
    return Board(mission, choices, rungs, shown, needs, counts, len(teams), show, left_out=left_out, is_folded=folded)


def _opened(fold: Fold | None, teams: Sequence[TeamWithRobot]) -> frozenset[int] | None:
    """The teams whose rows are shown whole; None for all."""
    if fold is None:
        return None
    if fold.opened is not None:
        return fold.opened
    return frozenset(team.team_id for team in teams) if len(teams) <= FEW_TEAMS else frozenset()


def _in_lines(rows: Sequence[BoardRow], needs: Sequence[Need], opened: frozenset[int]) -> list[BoardRow]:
    """Who needs the coach comes first, in the order of need; within one kind and after them in table order."""
    first: dict[int, str] = {}
    for need in needs:
        first.setdefault(need.team_id, need.kind)
    place = {kind: number for number, kind in enumerate(ORDER)}
    ordered = sorted(rows, key=lambda row: place.get(first.get(row.team.team_id, ""), len(ORDER)))
    lines = []
    for row in ordered:
        key = row.team.team_id
        toggled = ",".join(map(str, sorted(opened ^ {key})))
        word = str(NEED_WORDS.get(first.get(key, ""), ""))
        lines.append(replace(row, is_open=key in opened, need=word, toggled=toggled))
    return lines


def rungs_of(club: Club, mission: Mission, at: dt.datetime | None = None) -> list[BoardTier]:
    editions = TierVersion.objects.in_force(at).filter(tier__mission=mission)
    return [BoardTier(edition.tier, edition, rule_for(club, edition)) for edition in editions]


def left_out_rungs(club: Club, tier_ids: Iterable[int]) -> list[BoardTier]:
    """Of these tiers those that are no longer offered, as they were when they last were."""
    editions = TierVersion.objects.last_published().filter(tier__in=tier_ids, tier__left_out_at__isnull=False)
    return [BoardTier(edition.tier, edition, rule_for(club, edition)) for edition in editions.order_by("tier__order")]


def read_row(
    club: Club,
    team: Team,
    mission: Mission,
    rungs: Sequence[BoardTier],
    held: dict[int, HeldRobot],
    now: dt.datetime,
) -> BoardRow:
    """One team's row of the board."""
    progress = list(Progress.objects.of_mission(mission).filter(team=team))
    return _rows(club, mission, rungs, [with_robot(team, held.get(team.pk), now)], held, progress, now)[0]


def laddered(cells: Sequence[BoardCell]) -> list[BoardCell]:
    """Mark the lowest cell that is not open, and whether it may be opened without going against the rule."""
    steps = []
    for i, cell in enumerate(cells):
        is_next = not cell.is_open and (i == 0 or cells[i - 1].is_open)
        steps.append(replace(cell, is_next=is_next, may_open=is_next and (i == 0 or cells[i - 1].moves_up)))
    return steps


def _chosen(missions: Sequence[Mission], rows: Sequence[ProgressRow], mission_id: int | None) -> Mission | None:
    by_id = {mission.pk: mission for mission in missions}
    if mission_id is not None:
        return by_id.get(mission_id)
    run = [row for row in rows if row.last_run_at is not None and row.mission_id in by_id]
    if run:
        return by_id[max(run, key=lambda row: row.last_run_at).mission_id]  # type: ignore[arg-type, return-value]
    return missions[0] if missions else None


def with_robot(team: Team, held: HeldRobot | None, at: dt.datetime) -> TeamWithRobot:
    if held is None:
        return TeamWithRobot(team.pk, team.name, None)
    robot = TeamRobot(held.robot.pk, held.robot.name, held.calibrated_at, changed_at({}, held, at))
    return TeamWithRobot(team.pk, team.name, robot)


def _rows(
    club: Club,
    mission: Mission,
    rungs: Sequence[BoardTier],
    teams: Sequence[TeamWithRobot],
    held: dict[int, HeldRobot],
    known: Sequence[Progress],
    now: dt.datetime,
    opened: frozenset[int] | None = None,
) -> list[BoardRow]:
    """What runs say is read only for rows that are shown whole; None are all of them."""
    progress = {(row.team_id, row.tier_id): row for row in known}
    decided = {change.progress_id: change for change in ProgressChange.objects.that_stand(mission)}
    rows = []
    for team in teams:
        whole = opened is None or team.team_id in opened
        robot = held.get(team.team_id)
        cells = [
            _cell(club, team, rung, progress.get((team.team_id, rung.tier.pk)), robot, decided, now, whole=whole)
            for rung in rungs
        ]
        rows.append(BoardRow(team, laddered(cells)))
    return rows


def _left_out(
    club: Club,
    rungs: Sequence[BoardTier],
    teams: Sequence[TeamWithRobot],
    held: dict[int, HeldRobot],
    known: Sequence[Progress],
    now: dt.datetime,
) -> list[LeftOut]:
    """What teams have open or passed of tiers that are no longer offered; asks nothing more when there is none."""
    offered = {rung.tier.pk for rung in rungs}
    kept = {
        (row.team_id, row.tier_id): row
        for row in known
        if row.tier_id not in offered and row.state != ProgressState.NOT_OPEN
    }
    if not kept:
        return []
    found = []
    for rung in left_out_rungs(club, {tier_id for _team, tier_id in kept}):
        mine = [(team, kept[key]) for team in teams if (key := (team.team_id, rung.tier.pk)) in kept]
        cells = [(team.name, _cell(club, team, rung, row, held.get(team.team_id), {}, now)) for team, row in mine]
        found.append(LeftOut(rung.tier, cells))
    return found


def _cell(
    club: Club,
    team: TeamWithRobot,
    rung: BoardTier,
    progress: Progress | None,
    held: HeldRobot | None,
    decided: dict[int, ProgressChange],
    now: dt.datetime,
    *,
    whole: bool = True,
) -> BoardCell:
    if progress is None or progress.state == ProgressState.NOT_OPEN:
        return BoardCell(team.team_id, rung)
    kept, signed = progress.evidence, decided.get(progress.pk)
    evidence, found = read_answer(kept, rung.rule, held, now, progress.marked_at)
    said = said_runs(kept, held, now) if whole else []
    return cell_of(team.team_id, rung, progress, found, evidence, kept, said, club.unit, signed)


def _answers(row: BoardRow, show: str, needing: Collection[int]) -> bool:
    if show == "needed":
        return row.team.team_id in needing
    return show == "all" or any(cell.shows == show for cell in row.cells)
