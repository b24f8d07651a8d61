"""Forty scene, course and mission files that mean harm: each refused soon, in words that a terminal can show."""

from __future__ import annotations

import copy
import io
import json
import time
from pathlib import Path
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.core.management import call_command
from django.urls import reverse

from missions.models import Mission
from motion.scene.file_fields import printable
from tests.pages import page_of

ROOT = Path(__file__).parents[2] / "fixtures"
SCENE = json.loads((ROOT / "scenes" / "estuary-00.json").read_text())
MISSION = json.loads((ROOT / "demo_club" / "missions" / "tide-gate.mission.json").read_text())
COURSE = {"format": "helmroom.course/1", "courses": [{"actions": [{"do": "drive", "distance_mm": 300}]}]}
CONTROLS = "tide\x1b]0;owned\x07\x1b[2J\x9b31m\u202egate\u2028\x00"
#: Seconds of processor time; the slowest takes a tenth of it.
MOST_S = 10


def changed(document: Any, place: str, value: Any) -> bytes:
    """The document with another value at ``place``, such as ``target/body/0``."""
    whole = copy.deepcopy(document)
    holder, *keys = whole, *place.split("/")
    for key in keys[:-1]:
        holder = holder[int(key) if isinstance(holder, list) else key]
    holder[int(keys[-1]) if isinstance(holder, list) else keys[-1]] = value
    return json.dumps(whole).encode("utf-8", "surrogatepass")


def raw(document: Any, place: str, text: str) -> bytes:
    """The same with a value that no writer of JSON would write."""
    return changed(document, place, "HERE").replace(b'"HERE"', text.encode("utf-8", "surrogatepass"))


STAR = [[600 + 300 * ((k * 5) % 64 % 2), 300 + k] for k in range(64)]
SCENES = {
    "controls in a name": changed(SCENE, "name", CONTROLS),
    "controls in a key": changed(SCENE, "target/" + CONTROLS, 1),
    "controls outside of all strings": raw(SCENE, "name", "\x1b[2J"),
    "bytes that are no text": b"\xff\xfe\x1b[2J" * 100,
    "a table without end": raw(SCENE, "table/width_mm", "1e400"),
    "a table that is none": raw(SCENE, "table/width_mm", "NaN"),
    "a table below nothing": changed(SCENE, "table/width_mm", -1),
    "a table around the world": changed(SCENE, "table/depth_mm", 4e10),
    "a number of a million digits": raw(SCENE, "table/width_mm", "9" * 900_000),
    "a truth in place of a number": changed(SCENE, "table/width_mm", True),
    "brackets without end": b"[" * 900_000,
    "objects without end": b'{"a":' * 180_000,
    "the same key again and again": b"{" + b'"k": 1, ' * 100_000 + b'"k": 1}',
    "sixty-four stars of sixty-four": changed(SCENE, "obstacles", [STAR] * 64),
    "ten thousand obstacles": changed(SCENE, "obstacles", [SCENE["obstacles"][0]] * 10_000),
    "a base that crosses itself": changed(SCENE, "base", [[0, 0], [400, 400], [400, 0], [0, 400]]),
    "a base in a line": changed(SCENE, "base", [[0, 0], [100, 0], [200, 0]]),
    "a base of one corner many times": changed(SCENE, "base", [[5, 5]] * 64),
    "a footprint without its axle": changed(SCENE, "robot/footprint", [[[900, 0], [1000, 0], [1000, 90]]]),
    "a robot without speed": changed(SCENE, "robot/speed_mm_s", 0),
    "a robot as fast as light": changed(SCENE, "robot/speed_mm_s", 3e11),
    "a step of next to nothing": changed(SCENE, "robot/distance_step_mm", 1e-300),
    "errors without measure": changed(SCENE, "noise/distance_scale_sd", 1e9),
    "something that a class would read": changed(SCENE, "__class__", {"__reduce__": ["os.system", "true"]}),
}
COURSES = {
    "a course of a million actions": json.dumps(COURSE).encode()[:-3] + b"0," * 400_000 + b"]}]}",
    "a leg around the world": changed(COURSE, "courses/0/actions/0/distance_mm", 4e10),
    "a leg that is none": raw(COURSE, "courses/0/actions/0/distance_mm", "-Infinity"),
    "an action of controls": changed(COURSE, "courses/0/actions/0/do", CONTROLS),
    "a tool for a thousand years": changed(
        COURSE, "courses/0/actions/0", {"do": "tool", "name": "lift", "seconds": 3e10}
    ),
    "a course in place of courses": changed(COURSE, "courses", COURSE),
}
MISSIONS = {
    "a title of controls": changed(MISSION, "title", CONTROLS),
    "half a character": changed(MISSION, "brief", "tide \ud800 gate"),
    "a brief as long as a book": changed(MISSION, "brief", "word " * 150_000),
    "a thousand tiers": changed(MISSION, "tiers", MISSION["tiers"] * 400),
    "a thousand things to see": changed(MISSION, "tiers/0/criteria", MISSION["tiers"][0]["criteria"] * 400),
    "a limit of no time": changed(MISSION, "tiers/0/time_limit_s", 0),
    "a target in place of a list": changed(MISSION, "tiers", MISSION["target"]),
    "a scene": json.dumps(SCENE).encode(),
    "a zip": b"PK\x03\x04" + b"\x00" * 5000,
    "nothing but spaces": b" " * 900_000,
}  # fmt: skip


def test_there_are_forty() -> None:
    assert len(SCENES) + len(COURSES) + len(MISSIONS) == 40


def refused(command: str, *paths: Path) -> str:
    out, wrong, began = io.StringIO(), io.StringIO(), time.process_time()
    with pytest.raises(SystemExit) as end:
        call_command(command, *map(str, paths), stdout=out, stderr=wrong, no_color=True)
    assert time.process_time() - began < MOST_S
    assert end.value.code == 2 and out.getvalue() == ""
    return wrong.getvalue().removesuffix("\n")


@pytest.mark.parametrize("what", SCENES)
def test_a_bad_scene_is_refused_with_its_place_and_nothing_that_a_terminal_obeys(what: str, tmp_path: Path) -> None:
    path = tmp_path / "scene.json"
    path.write_bytes(SCENES[what])
    said = refused("plan_course", path)
    assert said == printable(said) and len(said) < 1000
    assert said.startswith(f"{path}: ") and said.count(".") > 1


@pytest.mark.parametrize("what", COURSES)
def test_a_bad_course_is_refused_likewise(what: str, tmp_path: Path) -> None:
    path = tmp_path / "course.json"
    path.write_bytes(COURSES[what])
    said = refused("check_course", ROOT / "scenes" / "estuary-00.json", path)
    assert said == printable(said) and len(said) < 1000 and said.startswith(f"{path}: ")


def test_a_name_of_a_file_is_shown_without_what_a_terminal_obeys(tmp_path: Path) -> None:
    said = refused("plan_course", tmp_path / "a\x1b[2J\u202eb.json")
    assert "\\x1b[2J\\u202e" in said and said == printable(said)


@pytest.mark.parametrize("what", MISSIONS)
def test_a_bad_mission_is_refused_on_the_page_and_makes_nothing(cast: Any, what: str) -> None:
    began = time.process_time()
    answer = cast.as_coach.post(reverse("mission_import"), {"file": SimpleUploadedFile("m.json", MISSIONS[what])})
    assert time.process_time() - began < MOST_S
    assert answer.status_code == 422 and 'class="errorlist"' in page_of(answer)
    assert not Mission.objects.filter(club=cast.club).exists()
    assert not set("\x1b\x9b\u202e") & set(answer.content.decode())
