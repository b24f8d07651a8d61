"""What `make run` installs is what the layers use: no more, and nothing of the tests'."""

from __future__ import annotations

import re
import sys
import tomllib
from importlib.metadata import packages_distributions
from pathlib import Path

from tests.test_architecture import LAYERS, ROOT, imports_of, python_files

#: Dependencies that no layer imports by name, and who does.
IMPORTED_BY_OTHERS = {
    "argon2-cffi": "Django's hasher",
    "gunicorn": "started as a program",
    "pywin32": "the lock on Windows",
    "tzdata": "zoneinfo, where a system has none",
    "whitenoise": "named in the settings",
}


def _plain(name: str) -> str:
    return re.sub(r"[-_.]+", "-", name).lower()


def _asked_for() -> set[str]:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
    return {_plain(re.match(r"[\w.-]+", line)[0]) for line in project["dependencies"]}


def _locked(name: str) -> set[str]:
    return {_plain(found) for found in re.findall(r"^([\w.-]+)(?:\[[\w,]+\])?==", (ROOT / name).read_text(), re.M)}


def _imported() -> set[str]:
    """Distributions that a module of a layer imports."""
    of_module = packages_distributions()
    found: set[str] = set()
    for path in python_files(*LAYERS):
        for _, module in imports_of(path):
            top = module.split(".")[0]
            if top not in sys.stdlib_module_names and top not in LAYERS:
                found |= {_plain(name) for name in of_module.get(top, [top])}
    return found


def test_the_layers_import_only_what_a_first_run_installs():
    assert _imported() <= _locked("requirements.txt")


def test_every_dependency_is_used():
    assert _asked_for() - _imported() == set(IMPORTED_BY_OTHERS)


def test_no_list_names_where_to_download_from():
    for path in sorted(Path(ROOT).glob("requirements*.txt")):
        assert not re.search(r"https?://|--index-url|--find-links", path.read_text()), path.name


def test_every_locked_package_has_its_hashes():
    for path in sorted(Path(ROOT).glob("requirements*.txt")):
        blocks = re.split(r"^(?=[\w.-]+(?:\[[\w,]+\])?==)", path.read_text(), flags=re.MULTILINE)[1:]
        assert {_plain(re.match(r"[\w.-]+", block)[0]) for block in blocks} == _locked(path.name) and len(blocks) > 20
        assert [block.split()[0] for block in blocks if not re.search(r"--hash=sha256:[0-9a-f]{64}\b", block)] == []
