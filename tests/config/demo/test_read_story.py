"""The demonstration's files: closed to slips of the pen, and every name in them is somebody's."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from config.demo.read_story import FOLDER, read_story
from missions.day.services.safety_cards import DEFAULT_CARDS
from missions.ladder.mission_file import read_mission
from motion.errors import SceneError

STORY = read_story()
MISSIONS = {document["title"]: document for document in STORY.missions}
WEEKS = range(1, STORY.term.weeks + 1)


def test_every_file_says_that_it_is_invented():
    for path in FOLDER.glob("*.json"):
        assert json.loads(path.read_text())["about"].startswith("Invented"), path.name


def test_every_mission_file_in_the_folder_is_one_of_the_clubs():
    titles = [read_mission(path.read_bytes())["title"] for path in (FOLDER / "missions").iterdir()]
    assert sorted(titles) == sorted(MISSIONS)


@pytest.mark.parametrize("team", STORY.teams, ids=lambda team: team.name)
def test_a_team_drives_its_own_robot_along_a_way_that_is_told(team):
    assert STORY.robots[team.robot].scatter in STORY.scatter
    for stint in team.stints:
        assert (stint.mission, stint.tier, stint.way) in STORY.ways
        assert stint.week in WEEKS and stint.tier <= len(MISSIONS[stint.mission]["tiers"])
        assert stint.week >= STORY.planned_from_week[stint.mission]
    ran = {(stint.mission, stint.tier) for stint in team.stints}
    assert {(passed.mission, passed.tier) for passed in team.passed} <= ran
    assert {words.member for words in team.words} <= set(team.members)


def test_no_robot_is_two_teams_and_no_child_in_two():
    robots = [team.robot for team in STORY.teams]
    children = [name for team in STORY.teams for name in team.members]
    assert len(set(robots)) == len(robots) and len(set(children)) == len(children)


def test_services_cautions_and_plans_are_of_things_that_the_club_has():
    assert {note.robot for note in STORY.service} <= set(STORY.robots)
    assert {note.spare for note in STORY.service if note.spare} <= {line.name for line in STORY.spares}
    assert set(STORY.cautions_checked_today) <= {subject for subject, _ in DEFAULT_CARDS}
    assert set(STORY.planned_from_week) == set(MISSIONS)


def _add_a_key(club: dict[str, Any]) -> None:
    club["term"]["wekes"] = 12


def _forget_a_key(club: dict[str, Any]) -> None:
    del club["term"]["place"]


def _half_a_week(club: dict[str, Any]) -> None:
    club["term"]["weeks"] = 11.5


def _a_name_that_is_no_text(club: dict[str, Any]) -> None:
    club["tables"][1]["name"] = 2


@pytest.mark.parametrize(
    ("spoil", "code", "place"),
    [
        (_add_a_key, "unknown_key", "term"),
        (_forget_a_key, "missing_key", "term"),
        (_half_a_week, "wrong_type", "term.weeks"),
        (_a_name_that_is_no_text, "wrong_type", "tables[1].name"),
    ],
)
def test_a_slip_of_the_pen_is_found_where_it_was_made(
    tmp_path: Path, spoil: Callable[[dict[str, Any]], None], code: str, place: str
):
    folder = tmp_path / "club"
    shutil.copytree(FOLDER, folder)
    club = json.loads((folder / "club.json").read_text())
    spoil(club)
    (folder / "club.json").write_text(json.dumps(club))
    with pytest.raises(SceneError) as refused:
        read_story(folder)
    assert (refused.value.code, refused.value.place) == (code, place)
