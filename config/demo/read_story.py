"""Reads the demonstration's files, closed to unknown keys, so that a slip of the pen is found where it was made."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import MISSING, fields, is_dataclass
from functools import cache, partial
from pathlib import Path
from typing import Any, TypeVar, get_type_hints

from django.conf import settings

from classroom.robots.services.keep_spare import SpareLine
from config.demo.story import (
    ClubFacts,
    CoachFacts,
    FamilyWords,
    Measured,
    PartFacts,
    Passed,
    RobotFacts,
    ServiceFacts,
    Steps,
    Stint,
    Story,
    TableFacts,
    TeamStory,
    TermFacts,
)
from missions.ladder.mission_file import read_mission
from motion.chance.simulate import Manner
from motion.errors import MotionCode
from motion.scene.file_fields import a_list, a_number, a_polygon, a_text, an_object, fail, parse_json
from motion.scene.records import Noise

FOLDER = settings.BASE_DIR / "fixtures" / "demo_club"
MOST = 200
DOES = ("drive", "turn", "push")
T = TypeVar("T")


@cache
def read_story(folder: Path = FOLDER) -> Story:
    """The demonstration as its files tell it.

    Raises
    ------
    SceneError
        With a code, one sentence, and the place in the file.
    """
    club = _file(
        folder / "club.json", ("club", "coaches", "term", "tables", "cautions_checked_today", "spares", "missions")
    )
    robots = _file(folder / "robots.json", ("build", "robots", "service"))
    story = _file(
        folder / "story.json",
        (
            "planned_from_week",
            "absent_share",
            "parts",
            "scatter",
            "opened_because",
            "passed_because",
            "next_tries",
            "teams",
        ),
    )
    ways = _file(folder / "ways.json", ("ways",))
    return Story(
        club=a_record(ClubFacts, club["club"], "club"),
        coaches=records(CoachFacts, club["coaches"], "coaches"),
        term=a_record(TermFacts, club["term"], "term"),
        tables=records(TableFacts, club["tables"], "tables"),
        cautions_checked_today=_texts(club["cautions_checked_today"], "cautions_checked_today"),
        spares=records(SpareLine, club["spares"], "spares"),
        missions=tuple(
            read_mission((folder / "missions" / f"{name}.mission.json").read_bytes())
            for name in _texts(club["missions"], "missions")
        ),
        build=_build(robots["build"]),
        robots={robot.name: robot for robot in records(RobotFacts, robots["robots"], "robots")},
        service=records(ServiceFacts, robots["service"], "service"),
        planned_from_week=_by_name(story["planned_from_week"], "planned_from_week", a_whole),
        absent_share=a_number(story["absent_share"], "absent_share", 0, 1),
        parts=records(PartFacts, story["parts"], "parts"),
        scatter=_by_name(story["scatter"], "scatter", lambda value, place: a_record(Noise, value, place)),
        opened_because=a_text(story["opened_because"], "opened_because"),
        passed_because=a_text(story["passed_because"], "passed_because"),
        next_tries=_by_name(story["next_tries"], "next_tries", a_text),
        teams=records(TeamStory, story["teams"], "teams"),
        ways=_ways(ways["ways"]),
    )


def _file(path: Path, keys: tuple[str, ...]) -> dict[str, Any]:
    return an_object(parse_json(path.read_bytes()), path.name, ("about", *keys))


def a_record(cls: type[T], value: Any, place: str) -> T:
    """A record of ``cls`` from an object with its fields; those with a default may be left out."""
    assert is_dataclass(cls)
    kinds = get_type_hints(cls)
    known = {field.name: field for field in fields(cls) if kinds[field.name] in _READERS}
    needed = [name for name, field in known.items() if field.default is MISSING]
    given = an_object(value, place, needed, [name for name in known if name not in needed])
    return cls(**{name: _READERS[kinds[name]](each, f"{place}.{name}") for name, each in given.items()})


def records(cls: type[T], value: Any, place: str) -> tuple[T, ...]:
    return tuple(a_record(cls, each, f"{place}[{i}]") for i, each in enumerate(a_list(value, place, MOST, "records")))


def a_whole(value: Any, place: str) -> int:
    number = a_number(value, place, 0, 1_000_000)
    if number != int(number):
        fail(MotionCode.WRONG_TYPE, "Expected a whole number.", place)
    return int(number)


def _number(value: Any, place: str) -> float:
    return a_number(value, place, -100_000, 100_000)


def _texts(value: Any, place: str) -> tuple[str, ...]:
    return tuple(a_text(each, f"{place}[{i}]") for i, each in enumerate(a_list(value, place, MOST, "texts")))


def _by_name(value: Any, place: str, read: Callable[[Any, str], T]) -> dict[str, T]:
    if not isinstance(value, dict):
        fail(MotionCode.WRONG_TYPE, "Expected an object.", place)
    return {name: read(each, f"{place}.{name}") for name, each in value.items()}


def _build(value: Any) -> dict[str, Any]:
    """What the rows of all robots have in common."""
    build = an_object(value, "build", ("travel_footprint", "wheel_diameter_mm", "track_width_mm"))
    parts = a_list(build["travel_footprint"], "build.travel_footprint", MOST, "parts")
    return {
        "travel_footprint": [
            [list(corner) for corner in a_polygon(part, f"build.travel_footprint[{i}]")] for i, part in enumerate(parts)
        ],
        "wheel_diameter_mm": _number(build["wheel_diameter_mm"], "build.wheel_diameter_mm"),
        "track_width_mm": _number(build["track_width_mm"], "build.track_width_mm"),
    }


def _ways(value: Any) -> dict[tuple[str, int, str], Steps]:
    ways: dict[tuple[str, int, str], Steps] = {}
    for i, each in enumerate(a_list(value, "ways", MOST, "ways")):
        way = an_object(each, f"ways[{i}]", ("mission", "tiers", "steps"), ("name",))
        steps = a_list(way["steps"], f"ways[{i}].steps", MOST, "steps")
        read = tuple(_step(step, f"ways[{i}].steps[{k}]") for k, step in enumerate(steps))
        for k, tier in enumerate(a_list(way["tiers"], f"ways[{i}].tiers", MOST, "tiers")):
            mission, rung = a_text(way["mission"], f"ways[{i}].mission"), a_whole(tier, f"ways[{i}].tiers[{k}]")
            ways[mission, rung, a_text(way["name"], f"ways[{i}].name") if "name" in way else ""] = read
    return ways


def _step(value: Any, place: str) -> tuple[str, float]:
    if not isinstance(value, list) or len(value) != 2 or value[0] not in DOES:
        fail(MotionCode.WRONG_TYPE, f'Expected a step such as ["drive", 490]; it may {", ".join(DOES)}.', place)
    return value[0], _number(value[1], f"{place}[1]")


#: How a field of each type is read; a field of another type may not be given.
_READERS: dict[Any, Callable[[Any, str], Any]] = {
    str: a_text,
    int: a_whole,
    float: _number,
    int | None: a_whole,
    tuple[str, ...]: _texts,
    Manner: partial(a_record, Manner),
    tuple[Measured, ...]: partial(records, Measured),
    tuple[Stint, ...]: partial(records, Stint),
    tuple[Passed, ...]: partial(records, Passed),
    tuple[FamilyWords, ...]: partial(records, FamilyWords),
}
