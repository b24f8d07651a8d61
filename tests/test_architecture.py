"""The house keeps its shape: layers one way, a pure motion, short files, plain names."""

from __future__ import annotations

import ast
import importlib
import itertools
import re
from collections.abc import Iterator
from pathlib import Path

import networkx as nx

ROOT = Path(__file__).resolve().parent.parent
LAYERS = ["motion", "classroom", "missions", "planning", "config"]
CODE = [*LAYERS, "tests", "benchmarks"]
LONGEST = 400
MOST_ENTRIES = 12
BANNED_NAMES = {"utils", "util", "helpers", "helper", "misc", "common", "stuff"}
#: What motion may not touch: the framework, the world outside, the clock, global chance.
IMPURE = {
    "django", "os", "sys", "io", "pathlib", "shutil", "tempfile", "subprocess", "socket", "urllib", "http", "logging",
    "time", "datetime", "random", "secrets", "uuid", "threading", "multiprocessing", "celery",
}  # fmt: skip
SEEDED = {"default_rng", "Generator", "SeedSequence", "BitGenerator", "PCG64", "PCG64DXSM", "Philox", "SFC64"}


def python_files(*folders: str) -> list[Path]:
    return [
        path
        for folder in folders
        for path in sorted((ROOT / folder).rglob("*.py"))
        if "migrations" not in path.parts and "__pycache__" not in path.parts
    ]


def text_files(folder: str, *endings: str) -> list[Path]:
    return [path for path in sorted((ROOT / folder).rglob("*")) if path.suffix in endings]


def said(path: Path) -> str:
    return str(path.relative_to(ROOT))


def imports_of(path: Path) -> Iterator[tuple[int, str]]:
    """Every module imported anywhere in a file, at its top or within a function."""
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.Import):
            yield from ((node.lineno, alias.name) for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{said(path)}:{node.lineno} imports by dots; write the whole name"
            yield node.lineno, node.module or ""


def test_a_lower_layer_never_imports_a_higher_one():
    wrong = []
    for rank, layer in enumerate(LAYERS):
        above = set(LAYERS[rank + 1 :]) | {"tests", "benchmarks"}
        for path in python_files(layer):
            wrong += [
                f"{said(path)}:{line} imports {name}" for line, name in imports_of(path) if name.split(".")[0] in above
            ]
    assert wrong == []


def test_motion_imports_nothing_impure():
    wrong = [
        f"{said(path)}:{line} imports {name}"
        for path in python_files("motion")
        for line, name in imports_of(path)
        if name.split(".")[0] in IMPURE
    ]
    assert wrong == []


def test_motion_reads_nothing_prints_nothing_and_draws_only_seeded_numbers():
    wrong = []
    for path in python_files("motion"):
        for node in ast.walk(ast.parse(path.read_text())):
            if (
                isinstance(node, ast.Call)
                and isinstance(node.func, ast.Name)
                and node.func.id in ("open", "print", "input")
            ):
                wrong.append(f"{said(path)}:{node.lineno} calls {node.func.id}")
            at_random = isinstance(node, ast.Attribute) and ast.unparse(node.value) in ("np.random", "numpy.random")
            if at_random and node.attr not in SEEDED:
                wrong.append(f"{said(path)}:{node.lineno} uses the global np.random.{node.attr}")
            if isinstance(node, ast.Call) and ast.unparse(node.func).endswith("default_rng") and not node.args:
                wrong.append(f"{said(path)}:{node.lineno} makes random numbers without a seed")
    assert wrong == []


#: Where numbers are coordinates of a picture, which nobody reads.
DRAWINGS = {
    "motion/picture/sheet.py", "motion/picture/chart.py", "classroom/robots/pages/pictures.py",
    "missions/editor/pages/chart.py", "missions/ladder/pages/setup_drawing.py",
}  # fmt: skip


def test_numbers_are_put_into_words_in_one_place():
    """A format such as .1f says what the last digits of one machine make of it; motion.units.figure does not."""
    wrong = []
    for path in python_files(*LAYERS):
        if said(path) in DRAWINGS | {"motion/units.py"}:
            continue
        for node in ast.walk(ast.parse(path.read_text())):
            spec = ast.unparse(node.format_spec) if isinstance(node, ast.FormattedValue) and node.format_spec else ""
            if re.search(r"\.(\d|\{.*\})[feg%]'$", spec):
                wrong.append(f"{said(path)}:{node.lineno} formats with {spec}")
    assert wrong == []


def test_no_signals_steer_the_program():
    """A rule that runs because a row was saved is found by nobody; rules are called."""
    wrong = [
        f"{said(path)}:{line}"
        for path in python_files(*LAYERS)
        for line, name in imports_of(path)
        if name in ("django.db.models.signals", "django.dispatch")
    ]
    assert wrong == []


def test_no_file_is_longer_than_a_reader_can_hold():
    files = python_files(*CODE) + text_files("templates", ".html") + text_files("static", ".css", ".js")
    lengths = {said(path): len(path.read_text().splitlines()) for path in files}
    assert {name: length for name, length in lengths.items() if length >= LONGEST} == {}


def test_every_file_is_named_for_what_is_in_it():
    files = python_files(*CODE) + text_files("templates", ".html") + text_files("static", ".css", ".js")
    wrong = [
        said(path) for path in files if BANNED_NAMES & {part.split(".")[0] for part in path.relative_to(ROOT).parts}
    ]
    assert wrong == []


def test_nothing_names_this_machine_or_is_left_for_later():
    places = ["/" + "work/", "/" + "root/"]
    later = re.compile(r"\b(" + "|".join(["TO" + "DO", "FIX" + "ME", "XX" + "X"]) + r")\b")
    wrong = []
    files = python_files(*CODE) + text_files("templates", ".html") + text_files("static", ".css", ".js")
    files += [path for path in ROOT.iterdir() if path.suffix in (".md", ".toml", ".txt") or path.name == "Makefile"]
    files += [path for path in (ROOT / ".ci").iterdir() if path.is_file()]
    for path in files:
        for number, line in enumerate(path.read_text().splitlines(), start=1):
            if any(place in line for place in places) or later.search(line):
                wrong.append(f"{said(path)}:{number}")
    assert wrong == []


def test_the_map_of_the_house_names_only_what_exists():
    text = (ROOT / "DEVELOPERS.md").read_text()
    named = {
        word.rstrip("/") for word in re.findall(r"`([\w./-]+)`", text) if "/" in word or word.endswith((".py", ".md"))
    }
    named = {name for name in named if name.split("/")[0] in {path.name for path in ROOT.iterdir()} | {"DEVELOPERS.md"}}
    assert named, "DEVELOPERS.md names no path"
    assert sorted(name for name in named if not (ROOT / name).exists()) == []


def test_the_map_of_the_house_has_every_room():
    tree = (ROOT / "DEVELOPERS.md").read_text().split("## Where a thing lives")[0]
    inner = {"migrations", "models", "management", "settings", "demo", "__pycache__"}
    rooms = [path for app in LAYERS for path in (ROOT / app).iterdir() if path.is_dir() and path.name not in inner]
    assert [said(room) for room in rooms if f"      {room.name}/" not in tree] == []


def test_what_a_recipe_names_stands_in_the_file_that_it_names():
    text = re.sub(r"\s+", " ", (ROOT / "DEVELOPERS.md").read_text().split("## Recipes")[1].split("\n## ")[0])
    named = re.findall(r"`\W*(\w+)\W*`(?: and `\W*(\w+)\W*`)? in `([\w/.-]+)`", text)
    assert named
    pairs = [(name, file) for first, second, file in named for name in (first, second) if name]
    assert [pair for pair in pairs if not re.search(rf"\b{pair[0]}\b", (ROOT / pair[1]).read_text())] == []


def test_every_benchmark_says_which_figures_it_measures():
    modules = [path for path in sorted((ROOT / "benchmarks").glob("*.py")) if not path.stem.startswith("_")]
    seen: dict[str, str] = {}
    for path in modules:
        figures = getattr(importlib.import_module(f"benchmarks.{path.stem}"), "FIGURES", None)
        if figures is None:
            continue  # a part that others use
        for name, measure in figures.items():
            assert re.fullmatch(r"[a-z]+\.[a-z0-9_]+", name), f"{path.name}: {name}"
            assert callable(measure), f"{path.name}: {name}"
            assert name not in seen, f"{name} is in {path.name} and in {seen[name]}"
            seen[name] = path.name
    assert seen


def test_each_row_has_one_door():
    """Two getters of one name could come to disagree about who may see a row."""
    doors: dict[str, list[str]] = {}
    for path in sorted(ROOT.glob("*/access*.py")):
        for node in ast.parse(path.read_text()).body:
            if isinstance(node, ast.FunctionDef):
                doors.setdefault(node.name, []).append(said(path))
    assert {name: places for name, places in doors.items() if len(places) > 1} == {}


def first_party(path: Path) -> str:
    """A file's name as a module."""
    name = ".".join(path.relative_to(ROOT).with_suffix("").parts)
    return name.removesuffix(".__init__")


def test_each_app_fits_on_a_page():
    """Rooms by idea: whoever opens an app sees at most a dozen of them."""
    crowded = {}
    for app in LAYERS:
        entries = [path.name for path in (ROOT / app).iterdir() if path.name != "__pycache__"]
        if len(entries) > MOST_ENTRIES:
            crowded[app] = sorted(entries)
    assert crowded == {}


def runtime_imports(path: Path) -> set[str]:
    """What a file imports when it runs, at its top or later; not what only a type checker reads."""
    tree = ast.parse(path.read_text())
    typing_only = {
        inner
        for node in ast.walk(tree)
        if isinstance(node, ast.If) and "TYPE_CHECKING" in ast.unparse(node.test)
        for inner in ast.walk(node)
    }
    names: set[str] = set()
    for node in ast.walk(tree):
        if node in typing_only:
            continue
        if isinstance(node, ast.ImportFrom) and node.module:
            names |= {node.module, *(f"{node.module}.{alias.name}" for alias in node.names)}
        elif isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
    return names


def circles(arrows: dict[str, set[str]]) -> list[list[str]]:
    """Groups of modules that import each other in a ring (Tarjan's strongly connected components, of two or more)."""
    graph = nx.DiGraph((a, b) for a, targets in arrows.items() for b in targets)
    return sorted(sorted(ring) for ring in nx.strongly_connected_components(graph) if len(ring) > 1)


def test_no_two_files_need_each_other():
    paths = {first_party(path): path for path in python_files(*LAYERS)}
    arrows = {
        name: {other for other in runtime_imports(path) & set(paths) if other != name} for name, path in paths.items()
    }
    assert circles(arrows) == []


def test_a_ring_of_imports_is_seen():
    assert circles({"a": {"b"}, "b": {"c"}, "c": {"a"}, "d": {"a"}}) == [["a", "b", "c"]]


def test_a_late_import_says_why():
    """An import within a function hides what a file needs; the reason stands beside it."""
    silent = []
    for path in python_files(*LAYERS):
        lines = path.read_text().splitlines()
        for function in ast.walk(ast.parse(path.read_text())):
            if not isinstance(function, ast.FunctionDef | ast.AsyncFunctionDef):
                continue
            late = [node for node in ast.walk(function) if isinstance(node, ast.Import | ast.ImportFrom)]
            for node in late:
                beside = " ".join(lines[node.lineno - 2 : node.end_lineno])
                if "#" not in beside:
                    silent.append(f"{said(path)}:{node.lineno}")
    assert sorted(set(silent)) == []


#: Names that a framework asks for, or that an address shares with the row behind it only by its case.
MANY_MEANINGS = {"Command", "Meta"}


def test_a_public_name_means_one_thing():
    """A class or function of one name stands in one file only, whatever the layer."""
    homes: dict[str, list[str]] = {}
    for path in python_files(*LAYERS):
        for node in ast.parse(path.read_text()).body:
            if isinstance(node, ast.ClassDef | ast.FunctionDef) and not node.name.startswith("_"):
                homes.setdefault(node.name, []).append(f"{said(path)}:{node.lineno}")
    assert {name: where for name, where in homes.items() if len(where) > 1 and name not in MANY_MEANINGS} == {}


REFUSALS = re.compile(r"^(HelmroomError|\w+Error|fail)$")


def test_a_refusal_takes_its_code_from_its_package():
    """Codes are what programs and tests go by; one that is typed anew each time can be mistyped."""
    typed = []
    for path in python_files("motion", "classroom", "missions", "planning"):
        for node in ast.walk(ast.parse(path.read_text())):
            if not (isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and len(node.args) > 1):
                continue
            first = node.args[0]
            if REFUSALS.match(node.func.id) and isinstance(first, ast.Constant | ast.JoinedStr):
                typed.append(f"{said(path)}:{node.lineno}")
    assert typed == []


def test_every_code_of_a_refusal_is_used():
    text = "\n".join(path.read_text() for path in python_files(*LAYERS))
    idle = []
    for package in ("motion", "classroom", "missions", "planning"):
        errors = importlib.import_module(f"{package}.errors")
        codes = getattr(errors, f"{package.capitalize()}Code")
        idle += [
            str(code) for code in codes if f"{codes.__name__}.{code.name}" not in text and code.name not in COMPOSED
        ]
    assert idle == []


#: Codes that are put together of what a shape is and what is wrong with it (motion/scene/checks.py).
COMPOSED = {
    f"{shape}_{wrong}"
    for shape in ("BASE", "TARGET", "OBSTACLE", "KEEP_OUT", "FOOTPRINT", "OUTLINE")
    for wrong in ("DEGENERATE", "CROSSES_ITSELF", "ON_START", "ON_PRECONTACT")
}


PRESSES = re.compile(r"\.(click|tap|dblclick)\(\)$|\.press\('Enter'\)$")
LEAVES = re.compile(r"\.(goto|reload)\(")


def test_no_test_leaves_a_page_before_its_press_has_come_to_something():
    hasty = []
    for path in python_files("tests"):
        blocks = [
            block
            for node in ast.walk(ast.parse(path.read_text()))
            for block in (getattr(node, "body", None), getattr(node, "orelse", None))
            if isinstance(block, list)
        ]
        for block in blocks:
            for press, then in itertools.pairwise(block):
                is_press = isinstance(press, ast.Expr) and PRESSES.search(ast.unparse(press))
                if is_press and isinstance(then, ast.Expr) and LEAVES.search(ast.unparse(then)):
                    hasty.append(f"{said(path)}:{press.lineno}")
    assert hasty == []
