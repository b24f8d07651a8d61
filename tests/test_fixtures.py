"""The shared files say what they are, and what is checked against the outside says where it is from."""

from __future__ import annotations

import json
from typing import Any

import jsonschema
import pytest
from django.conf import settings

from missions.ladder.mission_file import read_mission
from motion.scene.files import read_scene

FIXTURES = settings.BASE_DIR / "fixtures"
PUBLISHED = sorted((FIXTURES / "published").glob("*.json"))
SCENES = sorted((FIXTURES / "scenes").iterdir())
MISSIONS = sorted((FIXTURES / "demo_club" / "missions").iterdir())

#: How the source of a check value is known; a value from memory says so.
KNOWN = ["read", "second-hand", "memory", "derived"]
A_NUMBER_OR_SOME = {"type": ["number", "array"], "items": {"type": "number"}, "minItems": 1}
TOLERANCE = {"type": "number", "minimum": 0, "maximum": 0.01}
EXPECTED = {
    "type": "object",
    "required": ["value"],
    "additionalProperties": False,
    "minProperties": 2,
    "properties": {"value": A_NUMBER_OR_SOME, "within": TOLERANCE, "relative": TOLERANCE},
}
CASE = {
    "type": "object",
    "required": ["source", "known", "given", "expect"],
    "additionalProperties": False,
    "properties": {
        "source": {"type": "string", "minLength": 20},
        "known": {"enum": KNOWN},
        "note": {"type": "string", "minLength": 1},
        "given": {"type": "object", "minProperties": 1},
        "expect": {"type": "object", "minProperties": 1, "additionalProperties": EXPECTED},
    },
}
CHECK_VALUES = {
    "type": "object",
    "required": ["about", "cases"],
    "additionalProperties": False,
    "properties": {
        "about": {"type": "string", "minLength": 20},
        "cases": {"type": "object", "minProperties": 1, "additionalProperties": CASE},
    },
}


def test_the_readme_names_every_folder_and_says_that_it_is_invented():
    text = (FIXTURES / "README.md").read_text()
    assert "is invented" in text
    for folder in FIXTURES.iterdir():
        assert folder.suffix or f"`{folder.name}/" in text, folder.name


@pytest.mark.parametrize("path", PUBLISHED, ids=lambda path: path.stem)
def test_every_check_value_has_its_source_and_its_tolerance(path):
    jsonschema.validate(json.loads(path.read_text()), CHECK_VALUES)


def _first_case(content: dict[str, Any]) -> dict[str, Any]:
    return next(iter(content["cases"].values()))


@pytest.mark.parametrize(
    "spoil",
    [
        lambda content: _first_case(content).pop("source"),
        lambda content: _first_case(content).update(known="somewhere"),
        lambda content: next(iter(_first_case(content)["expect"].values())).pop("within"),
        lambda content: next(iter(_first_case(content)["expect"].values())).update(within=1),
    ],
    ids=["no source", "known somehow", "no tolerance", "anything goes"],
)
def test_a_check_value_without_them_is_refused(spoil):
    content = json.loads((FIXTURES / "published" / "square_path.json").read_text())
    spoil(content)
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(content, CHECK_VALUES)


@pytest.mark.parametrize("path", SCENES, ids=lambda path: path.stem)
def test_every_sample_scene_is_read_as_one_from_outside(path):
    scene = read_scene(path.read_bytes())
    assert scene.name == path.stem.replace("-", " ") and scene.best_known


@pytest.mark.parametrize("path", MISSIONS, ids=lambda path: path.stem)
def test_every_mission_is_read_as_one_from_outside_and_named_for_its_title(path):
    assert path.name == read_mission(path.read_bytes())["title"].lower().replace(" ", "-") + ".mission.json"
