"""What the demonstration's files say: who is in the club, and how each team's term has gone. Invented from end to end."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from classroom.robots.services.keep_spare import SpareLine
from missions.ladder.mission_file import Document
from motion.chance.simulate import Manner
from motion.scene.records import Noise

#: (do, mm or degrees to the left), in order.
Steps = tuple[tuple[str, float], ...]


@dataclass(frozen=True)
class ClubFacts:
    name: str
    time_zone: str
    unit: str


@dataclass(frozen=True)
class CoachFacts:
    role: str
    name: str


@dataclass(frozen=True)
class TermFacts:
    """A session a week; ``this_week`` is the one that is today's."""

    name: str
    weeks: int
    this_week: int
    minutes: int
    place: str


@dataclass(frozen=True)
class TableFacts:
    name: str
    width_mm: int
    depth_mm: int


@dataclass(frozen=True)
class RobotFacts:
    """``manner`` is what it really does and ``scatter`` names how it scatters, which its team finds out by measuring."""

    name: str
    order: int
    yaw_sense: str
    manner: Manner
    scatter: str


@dataclass(frozen=True)
class ServiceFacts:
    """A service note; with a spare it was done at once."""

    robot: str
    kind: str
    text: str
    weeks_ago: int
    due_in_weeks: int | None = None
    done_weeks_ago: int | None = None
    spare: str = ""
    spare_count: int = 0


@dataclass(frozen=True)
class PartFacts:
    """A part of every session; without minutes it is the runs."""

    name: str
    minutes: int | None = None


@dataclass(frozen=True)
class Measured:
    week: int
    kind: str


@dataclass(frozen=True)
class Stint:
    """Runs of one team on one tier in one week's session; ``way`` names one of several over the table."""

    week: int
    mission: str
    tier: int
    runs: int
    way: str = ""


@dataclass(frozen=True)
class Passed:
    week: int
    mission: str
    tier: int


@dataclass(frozen=True)
class FamilyWords:
    """What a coach approved for one child's family."""

    member: str
    learnt: str
    working_on: str
    ask_at_home: str


@dataclass(frozen=True)
class TeamStory:
    """A team's term."""

    name: str
    members: tuple[str, ...]
    robot: str
    calibrated: tuple[Measured, ...]
    stints: tuple[Stint, ...]
    passed: tuple[Passed, ...]
    words: tuple[FamilyWords, ...]


@dataclass(frozen=True)
class Story:
    """All of it. ``build`` is what every robot has in common; ``ways`` are by mission, tier and name, mostly empty."""

    club: ClubFacts
    coaches: tuple[CoachFacts, ...]
    term: TermFacts
    tables: tuple[TableFacts, ...]
    cautions_checked_today: tuple[str, ...]
    spares: tuple[SpareLine, ...]
    missions: tuple[Document, ...]
    build: dict[str, Any]
    robots: dict[str, RobotFacts]
    service: tuple[ServiceFacts, ...]
    planned_from_week: dict[str, int]
    absent_share: float
    parts: tuple[PartFacts, ...]
    scatter: dict[str, Noise]
    opened_because: str
    passed_because: str
    next_tries: dict[str, str]
    teams: tuple[TeamStory, ...]
    ways: dict[tuple[str, int, str], Steps]

    def manner_of(self, team: TeamStory) -> Manner:
        return self.robots[team.robot].manner

    def scatter_of(self, team: TeamStory) -> Noise:
        return self.scatter[self.robots[team.robot].scatter]
