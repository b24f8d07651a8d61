"""Every command, make target and file format has its line in docs/originality.md."""

from __future__ import annotations

import re
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
ROOMS = ("motion", "classroom", "missions", "planning", "config")
SAID = set(re.findall(r"`([^`]+)`", (ROOT / "docs" / "originality.md").read_text()))
SAID |= {word.removeprefix("make ") for word in SAID}


def test_every_command_of_manage_py_is_named():
    commands = {file.stem for room in ROOMS for file in (ROOT / room).glob("**/management/commands/[!_]*.py")}
    assert "demo_club" in commands and commands - SAID == set()


def test_every_target_of_the_makefile_is_named():
    targets = set(re.findall(r"^([a-z-]+):", (ROOT / "Makefile").read_text(), re.MULTILINE))
    assert "check" in targets and targets - SAID == set()


def test_every_format_of_a_file_is_named():
    sources = "\n".join(file.read_text() for room in ROOMS for file in (ROOT / room).glob("**/*.py"))
    formats = set(re.findall(r"helmroom\.[a-z-]+/\d", sources))
    named = {name for name in formats if name in SAID or ("/" + name[-1] in SAID and name[:-1] + "1" in SAID)}
    assert "helmroom.club/1" in formats and formats - named == set()
