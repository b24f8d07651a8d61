"""The best rota by mixed-integer programming, one goal after the other (HiGHS through scipy).

It begins with the rota that ``rota_first`` gives at once and looks only for better ones. What it may cost is counted in
nodes of the search, not in seconds, so that a slow machine comes to the same rota, only later.

Tables that are alike are counted, not named: ``laid[layout, kind, slot]`` says how many tables of a kind are laid for a
layout. The names come afterwards and cost no re-laying, because a table keeps its set-up whenever the count allows.
Without this, every exchange of two alike tables would be a solution of its own for the search to wade through.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Hashable

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import csr_array

from missions.day.rules.rota import GOALS, GoalResult, PlannedTurn, Rota, RotaTable, RotaTask, judge_rota
from missions.day.rules.rota_first import first_rota

Terms = dict[int, float]
#: Nodes of the search for one goal.
NODES = 20
_OPTIMAL = 0
_INFEASIBLE = 2  # scipy.optimize.milp's status
_SLACK = 1e-3  # goals are whole numbers; this keeps rounding from cutting one off
Kind = tuple[frozenset[Hashable], int | None]


class LinearModel:
    """A linear model grown row by row; every column is at least 0."""

    def __init__(self) -> None:
        self.upper: list[float] = []
        self.whole: list[int] = []
        self.rows: list[tuple[Terms, float, float]] = []

    def add(self, upper: float, *, whole: bool = True) -> int:
        self.upper.append(upper)
        self.whole.append(int(whole))
        return len(self.upper) - 1

    def hold(self, terms: Terms, low: float = -np.inf, high: float = np.inf) -> None:
        if terms:
            self.rows.append((terms, low, high))

    def least(
        self, goal: Terms, nodes: int, *, fixed: dict[int, float] | None = None, below: float | None = None
    ) -> tuple[np.ndarray | None, float]:
        """The best point found for a goal in so many nodes (None if none was), and the proven least value.

        ``fixed`` holds columns at values; ``below`` looks only for points that are better than a known one (the proven
        least value is infinite when there are none).
        """
        cost = np.zeros(len(self.upper))
        for column, weight in goal.items():
            cost[column] = weight
        rows = self.rows if below is None else [*self.rows, (goal, -np.inf, below)]
        heads = np.cumsum([0] + [len(terms) for terms, _, _ in rows]).astype(np.int32)
        columns = np.array([column for terms, _, _ in rows for column in terms], dtype=np.int32)
        weights = np.array([weight for terms, _, _ in rows for weight in terms.values()], dtype=float)
        matrix = csr_array((weights, columns, heads), shape=(len(rows), len(cost)))
        low, high = np.zeros(len(cost)), np.array(self.upper)
        for column, value in (fixed or {}).items():
            low[column] = high[column] = value
        found = milp(
            cost,
            integrality=np.array(self.whole),
            bounds=Bounds(low, high),
            constraints=LinearConstraint(
                matrix, np.array([least for _, least, _ in rows]), np.array([most for _, _, most in rows])
            ),
            options={"node_limit": nodes, "mip_rel_gap": 0.0},
        )
        if found.status == _INFEASIBLE:
            return None, np.inf
        if found.status == _OPTIMAL:  # its bound may be left unset where presolving alone has solved it
            return found.x, float(found.fun)
        return found.x, -np.inf if found.mip_dual_bound is None else float(found.mip_dual_bound)


class _RotaModel:
    """The columns and rows of a rota, and its goals as (terms, offset)."""

    def __init__(self, task: RotaTask) -> None:
        self.task = task
        self.model = LinearModel()
        self.kinds = _kinds(task)
        self.layouts = _layouts(task)
        self.plays = {
            (team.key, slot): self.model.add(1) for team in task.teams for slot in range(task.slots) if team.here(slot)
        }
        self.laid = {
            (layout, kind, slot): self.model.add(len(tables))
            for kind, tables in self.kinds.items()
            for layout in self.layouts
            if any(table.takes(layout) for table in tables)
            for slot in range(task.slots)
        }
        self._lay_tables()
        self._seat_teams()
        self._keep_hands()
        self.goals = {name: getattr(self, f"_{name}")() for name in GOALS}

    def _lay_tables(self) -> None:
        """Every table is laid for something; ``relayings`` counts the changes, a bare table's first laying apart."""
        self.changes: Terms = {}
        for kind, tables in self.kinds.items():
            here = [layout for layout in self.layouts if (layout, kind, 0) in self.laid]
            bare = sum(table.laid is None for table in tables)
            before = Counter(table.laid for table in tables)
            first: Terms = {}
            for slot in range(self.task.slots):
                self.model.hold({self.laid[layout, kind, slot]: 1.0 for layout in here}, len(tables), len(tables))
                for layout in here:
                    more = self.model.add(len(tables), whole=False)
                    terms: Terms = {more: 1, self.laid[layout, kind, slot]: -1}
                    if slot:
                        terms[self.laid[layout, kind, slot - 1]] = 1
                        self.changes[more] = 1
                    else:
                        first[more] = 1
                    self.model.hold(terms, low=0 if slot else -before[layout])
            if bare < len(tables) and first:
                at_once = self.model.add(len(tables), whole=False)
                self.model.hold({at_once: 1.0} | dict.fromkeys(first, -1.0), low=-bare)
                self.changes[at_once] = 1

    def _seat_teams(self) -> None:
        task = self.task
        of_layout = defaultdict(list)
        of_robot = defaultdict(list)
        for team in task.teams:
            of_layout[team.layout].append(team.key)
            if team.robot is not None:
                of_robot[team.robot].append(team.key)
        for slot in range(task.slots):
            for layout, keys in of_layout.items():
                terms = {self.plays[key, slot]: 1.0 for key in keys if (key, slot) in self.plays}
                for kind, tables in self.kinds.items():
                    closed = kind[1] is not None and (tables[0].key, slot) in task.kept_free
                    if (layout, kind, slot) in self.laid and not closed:
                        terms[self.laid[layout, kind, slot]] = -1
                self.model.hold(terms, high=0)
            for keys in of_robot.values():
                if len(keys) > 1:
                    self.model.hold({self.plays[k, slot]: 1.0 for k in keys if (k, slot) in self.plays}, high=1)
        set_by_hand = Counter(turn.team for turn in task.by_hand)
        self.turn_numbers: dict[int, list[int]] = {}
        for team in task.teams:
            most = max(task.most_turns, set_by_hand[team.key])
            numbers = [self.model.add(1, whole=False) for _ in range(most)]
            self.turn_numbers[team.key] = numbers
            self.model.hold(dict.fromkeys(self._slots_of(team.key), 1.0) | dict.fromkeys(numbers, -1.0), 0, 0)

    def _slots_of(self, key: int) -> list[int]:
        return [self.plays[key, slot] for slot in range(self.task.slots) if (key, slot) in self.plays]

    def _keep_hands(self) -> None:
        layout_of = {team.key: team.layout for team in self.task.teams}
        kind_of = {kind[1]: kind for kind in self.kinds}
        for turn in self.task.by_hand:
            self.model.hold({self.plays[turn.team, turn.slot]: 1}, low=1)
            self.model.hold({self.laid[layout_of[turn.team], kind_of[turn.table], turn.slot]: 1}, low=1)

    def _empty(self) -> tuple[Terms, float]:
        return dict.fromkeys(self.plays.values(), -1.0), self.task.places

    def _uneven(self) -> tuple[Terms, float]:
        """The square grows by 2 (past + k) - 1 with the k-th turn: cheaper ones fill up first by themselves."""
        terms = {
            column: float(2 * (team.past_turns + number) - 1)
            for team in self.task.teams
            for number, column in enumerate(self.turn_numbers[team.key], start=1)
        }
        return terms, sum(team.past_turns**2 for team in self.task.teams)

    def _waiting(self) -> tuple[Terms, float]:
        terms: Terms = {}
        first = [team for team in self.task.teams if team.first]
        for team in first:
            so_far: Terms = {}
            for slot in range(self.task.slots):
                if (team.key, slot) in self.plays:
                    so_far[self.plays[team.key, slot]] = -1
                seen = self.model.add(1, whole=False)
                self.model.hold({seen: 1.0} | so_far, high=0)
                terms[seen] = -1
        return terms, len(first) * self.task.slots

    def _relayings(self) -> tuple[Terms, float]:
        return self.changes, 0

    def _moved(self) -> tuple[Terms, float]:
        known = {team.key for team in self.task.teams}
        read = {(turn.team, turn.slot) for turn in self.task.earlier if turn.team in known}
        return {self.plays[place]: -1.0 for place in read if place in self.plays}, len(read)

    def _back_to_back(self) -> tuple[Terms, float]:
        terms: Terms = {}
        for team in self.task.teams:
            for slot in range(self.task.slots):
                now, before = self.plays.get((team.key, slot)), self.plays.get((team.key, slot - 1))
                if now is not None and before is not None:
                    pair = self.model.add(1, whole=False)
                    self.model.hold({pair: 1, now: -1, before: -1}, low=-1)
                    terms[pair] = 1
                elif now is not None and slot == 0 and team.just_played:
                    terms[now] = 1
        return terms, 0

    def laid_as(self, rota: Rota) -> dict[int, float]:
        """The columns that say how tables are laid, as in a rota."""
        count: Counter[tuple[Hashable | None, Kind, int]] = Counter()
        for kind, tables in self.kinds.items():
            for table in tables:
                for slot in range(self.task.slots):
                    count[rota.laid.get((table.key, slot)), kind, slot] += 1
        return {column: float(count[place]) for place, column in self.laid.items()}


def _kinds(task: RotaTask) -> dict[Kind, list[RotaTable]]:
    """Tables that can stand for each other; one with something set by hand stands for itself."""
    wanted = {team.layout for team in task.teams}
    by_hand = {turn.table for turn in task.by_hand} | {table for table, _ in task.kept_free}
    kinds: dict[Kind, list[RotaTable]] = defaultdict(list)
    for table in task.tables:
        takes = frozenset(layout for layout in wanted if table.takes(layout))
        kinds[takes, table.key if table.key in by_hand else None].append(table)
    return dict(kinds)


def _layouts(task: RotaTask) -> list[Hashable]:
    return list(
        dict.fromkeys(
            [team.layout for team in task.teams] + [table.laid for table in task.tables if table.laid is not None]
        )
    )


def plan_rota(task: RotaTask, *, nodes: int = NODES, stopped: Callable[[], bool] = lambda: False) -> Rota:
    """The best rota found with so many ``nodes`` a goal, with what is proven about each goal.

    Once ``stopped`` no goal is looked at any more, and what is proven is only so for those before.

    Raises
    ------
    InputError
        As ``missions.day.rules.rota.check_task``.
    """
    best = first_rota(task)
    built = _RotaModel(task)
    results = []
    for name in GOALS:
        if stopped():
            break
        terms, offset = built.goals[name]
        if not terms:
            value = judge_rota(task, best.turns, best.laid)[name]
            results.append(GoalResult(name, value, value))
            continue
        best, bound = _reach(built, name, best, nodes)
        value = judge_rota(task, best.turns, best.laid)[name]
        built.model.hold(terms, high=value - offset + _SLACK)
        least = int(np.ceil(bound + offset - _SLACK)) if np.isfinite(bound) else (value if bound > 0 else 0)
        results.append(GoalResult(name, value, max(0, min(value, least))))
    return Rota(best.turns, best.laid, tuple(results))


def _reach(built: _RotaModel, name: str, best: Rota, nodes: int) -> tuple[Rota, float]:
    """The best rota for one goal among those that keep the earlier goals, and the least that its terms can be."""
    terms, offset = built.goals[name]
    task = built.task
    if name == GOALS[-1]:
        # Quick and often best: shuffle the teams while the tables stay laid as they are. Then look for better only.
        point, _ = built.model.least(terms, nodes, fixed=built.laid_as(best))
        best = _better(task, name, best, None if point is None else _named(built, point))
    below = judge_rota(task, best.turns, best.laid)[name] - offset - 1 + _SLACK
    point, bound = built.model.least(terms, nodes, below=below)
    return _better(task, name, best, None if point is None else _named(built, point)), bound


def _better(task: RotaTask, name: str, best: Rota, other: Rota | None) -> Rota:
    if other is None:
        return best
    return min(best, other, key=lambda rota: judge_rota(task, rota.turns, rota.laid)[name])


def _named(built: _RotaModel, point: np.ndarray) -> Rota:
    """Names for the counted tables, slot by slot: a table keeps its set-up if the count allows."""
    task = built.task
    laid: dict[tuple[int, int], Hashable] = {}
    for kind, tables in built.kinds.items():
        before = {table.key: table.laid for table in tables}
        for slot in range(task.slots):
            want = Counter(
                {
                    layout: round(point[built.laid[layout, kind, slot]])
                    for layout in built.layouts
                    if (layout, kind, slot) in built.laid
                }
            )
            now: dict[int, Hashable] = {}
            for key, layout in before.items():
                if layout is not None and want[layout] > 0:
                    now[key] = layout
                    want[layout] -= 1
            spare = [layout for layout, count in want.items() for _ in range(count)]
            for key in sorted(set(before) - set(now), key=lambda k: before[k] is not None):
                if spare:
                    now[key] = spare.pop(0)
            before |= now
            laid |= {(key, slot): layout for key, layout in now.items()}
    turns = []
    by_hand = {(turn.team, turn.slot): turn for turn in task.by_hand}
    for slot in range(task.slots):
        free = defaultdict(list)
        taken = {turn.table for turn in task.by_hand if turn.slot == slot}
        for table in task.tables:
            if table.key not in taken and (table.key, slot) not in task.kept_free and (table.key, slot) in laid:
                free[laid[table.key, slot]].append(table.key)
        for team in task.teams:
            column = built.plays.get((team.key, slot))
            if column is None or point[column] < 0.5:
                continue
            turn = by_hand.get((team.key, slot))
            turns.append(turn or PlannedTurn(slot, free[team.layout].pop(0), team.key))
    return Rota(tuple(sorted(turns)), laid)
