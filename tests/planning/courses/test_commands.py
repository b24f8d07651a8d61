"""plan_course and check_course as a person at a terminal meets them: output, exit codes, one sentence for a bad file."""

from __future__ import annotations

import copy
import json
from collections.abc import Callable
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from django.core.management import call_command

SCENE = json.loads((Path(settings.BASE_DIR) / "fixtures/scenes/estuary-08.json").read_text())


def run(command: str, *arguments: str) -> tuple[int, str, str]:
    """Exit code, standard output, standard error."""
    out, err = StringIO(), StringIO()
    try:
        call_command(command, *arguments, stdout=out, stderr=err)
    except SystemExit as end:
        return int(end.code or 0), out.getvalue(), err.getvalue()
    return 0, out.getvalue(), err.getvalue()


@pytest.fixture
def scene_file(tmp_path: Path) -> Callable[..., str]:
    def write(change: Callable[[dict[str, Any]], None] | None = None, text: str | None = None) -> str:
        scene = copy.deepcopy(SCENE)
        if change:
            change(scene)
        path = tmp_path / "scene.json"
        path.write_text(text if text is not None else json.dumps(scene))
        return str(path)

    return write


def put(place: str, value: Any) -> Callable[[dict[str, Any]], None]:
    def change(scene: dict[str, Any]) -> None:
        *way, last = place.split(".")
        for key in way:
            scene = scene[key]
        scene[last] = value

    return change


def obstacle_on_the_start(scene: dict[str, Any]) -> None:
    x, y = scene["start"]["x_mm"], scene["start"]["y_mm"]
    scene["obstacles"] = [[[x - 30, y - 30], [x + 30, y - 30], [x + 30, y + 30], [x - 30, y + 30]]]


BAD: dict[str, tuple[Callable[[dict[str, Any]], None] | None, str | None, list[str]]] = {
    "a self-crossing base": (put("base", [[0, 0], [500, 400], [500, 0], [0, 400]]), None, ["base", "cross"]),
    "a start outside the base": (put("start", {"x_mm": 2000, "y_mm": 600, "heading_deg": 0}), None, ["start", "base"]),
    "a number that is none": (None, json.dumps(SCENE).replace('"margin_mm": 3', '"margin_mm": NaN'), ["NaN"]),
    "an obstacle on the start": (obstacle_on_the_start, None, ["obstacle"]),
    "an unknown key": (put("robot.colour", "red"), None, ["robot", "colour", "allowed"]),
    "ten megabytes of brackets": (None, "[" * 10_000_000, ["10.0 MB", "at most"]),
    "a heap of brackets": (None, "[" * 500_000, ["nested"]),
    "half a file": (None, json.dumps(SCENE)[:200], ["line 1", "JSON"]),
    "a course for a scene": (put("format", "helmroom.course/1"), None, ["format", "helmroom.scene/1"]),
}


OBEYED = "tide\x1b[2J\x9b31m\x7f\u202egate"


@pytest.mark.parametrize(
    "change",
    [
        put("name", OBEYED),
        put("target.name", OBEYED),
        put("robot." + OBEYED, 1),
        put("noise.yaw_reference", OBEYED),
        put("obstacles", [{"name": OBEYED, "outline": [[800, 500], [850, 500], [850, 550]]}]),
    ],
)
def test_nothing_that_a_terminal_obeys_is_printed_raw(change: Any, scene_file: Any) -> None:
    code, out, err = run("plan_course", scene_file(change))
    assert code == 2
    assert not set(OBEYED) & set("\x1b\x9b\x7f\u202e") & set(out + err)


def test_nor_the_name_of_a_file_nor_a_key_written_twice(scene_file: Any, tmp_path: Path) -> None:
    for path in (str(tmp_path / "no\x1b]0;file"), scene_file(text='{"a\x7f\x9b": 1, "a\x7f\x9b": 2}')):
        code, out, err = run("plan_course", path)
        assert code == 2
        assert not {"\x1b", "\x9b", "\x7f"} & set(out + err)


@pytest.mark.parametrize("what", BAD)
def test_a_bad_file_gets_one_sentence_with_its_place_and_a_remedy(scene_file, what):
    change, text, words = BAD[what]
    path = scene_file(change, text)
    code, out, err = run("plan_course", path)
    assert (code, out) == (2, "")
    assert err.startswith(f"{path}: ")
    assert len(err.strip().splitlines()) == 1
    assert len(err) < 500
    assert [word for word in words if word not in err] == []
    assert "Traceback" not in err


def test_a_file_that_is_not_there_is_said(tmp_path):
    code, _, err = run("plan_course", str(tmp_path / "none.json"))
    assert code == 2
    assert "check its name" in err


def test_a_file_without_end_is_not_read_to_its_end():
    code, _, err = run("plan_course", "/dev/zero")
    assert code == 2
    assert "at most 1 MB" in err


def test_a_course_is_planned_written_drawn_and_checked(scene_file, tmp_path):
    """The whole way of a file: plan, keep as JSON, draw, read again and check."""
    scene, picture, course = scene_file(), tmp_path / "course.svg", tmp_path / "course.json"
    code, out, err = run("plan_course", scene, "--aim", "fastest", "--json", "--picture", str(picture))
    assert (code, err) == (0, "")
    written = json.loads(out)
    assert written["format"] == "helmroom.course/1"
    (only,) = written["courses"]
    assert (only["aim"], only["rounded"]) == ("fastest", True)
    steps = [a["distance_mm"] / SCENE["robot"]["distance_step_mm"] for a in only["actions"] if "distance_mm" in a]
    assert steps == pytest.approx([round(step) for step in steps], abs=1e-6)
    assert picture.read_text().startswith("<svg")
    course.write_text(out)
    code, out, _ = run("check_course", scene, str(course))
    assert code == 0
    assert "Clear" in out
    assert "pretend runs" in out


def test_a_course_that_touches_is_listed_with_every_touch(scene_file, tmp_path):
    course = tmp_path / "course.json"
    actions = [{"do": "drive", "distance_mm": 5000}]
    course.write_text(json.dumps({"format": "helmroom.course/1", "courses": [{"actions": actions}]}))
    code, out, _ = run("check_course", scene_file(), str(course))
    assert code == 1
    assert "Not clear" in out
    assert "action 1" in out
    code, out, _ = run("check_course", scene_file(), str(course), "--json")
    assert code == 1
    assert json.loads(out)["checks"][0]["clear"] is False


def test_a_bad_course_file_names_the_course_file(scene_file, tmp_path):
    course = tmp_path / "course.json"
    course.write_text(json.dumps({"format": "helmroom.course/1", "courses": [{"actions": [{"do": "hop"}]}]}))
    code, _, err = run("check_course", scene_file(), str(course))
    assert code == 2
    assert err.startswith(f"{course}: courses[0].actions[0]")


def test_a_target_behind_a_narrow_gap_has_no_course_and_the_gap_is_said_and_drawn(scene_file, tmp_path):
    def wall(scene: dict[str, Any]) -> None:
        middle = scene["table"]["width_mm"] / 2
        top = scene["table"]["depth_mm"]
        scene["obstacles"] = [
            [[middle, 0], [middle + 20, 0], [middle + 20, 500], [middle, 500]],
            [[middle, 600], [middle + 20, 600], [middle + 20, top], [middle, top]],
        ]
        scene["start"] = {"x_mm": 120, "y_mm": 225, "heading_deg": 0}
        scene["base"] = [[0, 0], [520, 0], [520, 450], [0, 450]]
        scene["target"] |= {
            "body": [[1900, 450], [1960, 450], [1960, 750], [1900, 750]],
            "precontact": {"x_mm": 1670, "y_mm": 585, "heading_deg": 0},
        }

    picture = tmp_path / "none.svg"
    code, out, err = run("plan_course", scene_file(wall), "--aim", "fastest", "--picture", str(picture))
    assert (code, out) == (3, "")
    assert len(err.strip().splitlines()) == 1
    assert "is 10 cm" in err
    assert 'class="chart-tightest"' in picture.read_text()
