"""Templates and static files: named in full, used by somebody, nothing inline."""

from __future__ import annotations

import ast
import importlib.util
import json
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.test_architecture import LAYERS, ROOT, python_files, said, text_files

TEMPLATES = ROOT / "templates"
STATIC = ROOT / "static"
WIDEST = 140
#: What takes a template's name, and which of its arguments that is.
TAKES_A_NAME = {
    "render": 1, "answer_live": 1, "render_to_string": 0, "get_template": 0, "select_template": 0, "inclusion_tag": 0,
}  # fmt: skip
#: Where a template has its name from its place alone, or from the library that looks for it there.
FREE_NAMES = ("base.html", "error.html", "components/", "account/", "mfa/")


def template_files(*endings: str) -> dict[str, Path]:
    return {str(path.relative_to(TEMPLATES)): path for path in text_files("templates", *(endings or (".html",)))}


def literals(node: ast.expr) -> list[str] | None:
    """The names that an expression may have: one literal, or one of two; None when it is put together."""
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        return [node.value]
    if isinstance(node, ast.IfExp):
        first, second = literals(node.body), literals(node.orelse)
        return first + second if first and second else None
    return None


def names_given(tree: ast.Module) -> Iterator[tuple[int, list[str] | None]]:
    """Each name of a template that code gives to whoever renders it, by line.

    A variable counts when its function sets it to literals. A parameter counts in a function that itself takes a
    name: its callers are looked at instead.
    """
    for function in [node for node in ast.walk(tree) if isinstance(node, ast.FunctionDef)]:
        taken = {arg.arg for arg in function.args.args} if function.name in TAKES_A_NAME else set()
        set_here = {
            target.id: literals(node.value)
            for node in ast.walk(function)
            if isinstance(node, ast.Assign)
            for target in node.targets
            if isinstance(target, ast.Name)
        }
        for call in [node for node in ast.walk(function) if isinstance(node, ast.Call)]:
            place = TAKES_A_NAME.get(ast.unparse(call.func).removeprefix("register."))
            if place is None or len(call.args) <= place:
                continue
            given = call.args[place]
            if isinstance(given, ast.Name) and given.id in taken:
                continue
            yield call.lineno, set_here.get(given.id) if isinstance(given, ast.Name) else literals(given)


def names_in_code() -> set[str]:
    found: set[str] = set()
    for path in python_files(*LAYERS):
        for _, names in names_given(ast.parse(path.read_text())):
            found |= set(names or ())
    return found


def taken_in(text: str) -> Iterator[tuple[str, str]]:
    """``include`` or ``extends``, and what follows it up to ``with`` or ``only``; of ``kept_part`` what comes first."""
    for tag, rest in re.findall(r"{%\s*(include|extends|kept_part)\s+(.*?)\s*%}", text):
        yield tag, rest.split()[0] if tag == "kept_part" else re.split(r"\s+(?:with|only)\b", rest)[0]


def test_code_gives_the_name_of_a_template_in_full():
    wrong = []
    for path in python_files(*LAYERS):
        for line, names in names_given(ast.parse(path.read_text())):
            if names is None:
                wrong.append(f"{said(path)}:{line} puts a template's name together")
            else:
                wrong += [f"{said(path)}:{line} {name}" for name in names if not (TEMPLATES / name).is_file()]
    assert wrong == []


def test_a_name_that_is_put_together_is_seen():
    said_of = {
        'render(request, "a.html")': ["a.html"],
        'render(request, "a.html" if part else "b.html")': ["a.html", "b.html"],
        'name = "a.html" if part else "b.html"; render(request, name)': ["a.html", "b.html"],
        'render(request, f"{part}.html")': None,
        'render(request, "a/" + part)': None,
        "render(request, part)": None,
        "name = chosen(part); render(request, name)": None,
    }
    for code, names in said_of.items():
        assert [found for _, found in names_given(ast.parse(f"def view(request, part): {code}"))] == [names], code


def test_a_template_names_another_in_full():
    wrong = []
    for name, path in template_files().items():
        for tag, what in taken_in(path.read_text()):
            literal = re.fullmatch(r"""(["'])([^"']+)\1""", what)
            if not literal or not (TEMPLATES / literal[2]).is_file():
                wrong.append(f"{name}: {tag} {what}")
    assert wrong == []


def test_no_template_is_idle():
    used = names_in_code()
    for path in template_files().values():
        used |= {what.strip("\"'") for _, what in taken_in(path.read_text())}
    spec = importlib.util.find_spec("allauth")
    assert spec and spec.submodule_search_locations
    library = Path(spec.submodule_search_locations[0]) / "templates"
    idle = {name for name in template_files(".html", ".txt") if name not in used and not (library / name).is_file()}
    assert idle == set()


def test_a_template_is_named_for_what_it_is():
    """A page extends a base; a part is included or swapped in; a row is one line of a list or table."""
    wrong = []
    for name, path in template_files().items():
        text = path.read_text()
        if name.startswith(FREE_NAMES):
            continue
        kind = re.search(r"_(page|part|row|base)\.html$", name)
        extends = any(tag == "extends" for tag, _ in taken_in(text))
        first = re.search(r"<(\w+)", text)
        if not kind or (kind[1] in ("page", "base")) != extends:
            wrong.append(name)
        elif kind[1] == "row" and not (first and first[1] in ("li", "tr")):
            wrong.append(f"{name} begins with {first and first[1]}")
    assert wrong == []


def test_no_line_is_wider_than_a_reader_can_see():
    """The formatter breaks what it can; a tag of a template that is longer than a line has to be cut by hand."""
    wide = {
        f"{name}:{number}": len(line)
        for name, path in template_files().items()
        for number, line in enumerate(path.read_text().splitlines(), start=1)
        if len(line) > WIDEST
    }
    assert wide == {}


def test_every_template_compiles():
    from django.template.loader import get_template

    for name in template_files():
        get_template(name)


def static_names() -> dict[str, list[str]]:
    """Each static file that something asks for, and who."""
    asked: dict[str, list[str]] = {}
    for name, path in template_files().items():
        for found in re.findall(r"""{% static ["']([^"']+)["'] %}|{{ prefix }}([^"']+)""", path.read_text()):
            asked.setdefault("".join(found), []).append(name)
    for path in text_files("static", ".js"):
        for found in re.findall(r"""(?:from\s+|import\s+|import\()"(\.[^"]+)\"""", path.read_text()):
            asked.setdefault(str((path.parent / found).resolve().relative_to(STATIC)), []).append(said(path))
    for path in python_files(*LAYERS):
        for found in re.findall(r"""finders\.find\("([^"]+)"\)""", path.read_text()):
            asked.setdefault(found, []).append(said(path))
    return asked


def test_what_is_asked_for_is_there_and_no_static_file_is_idle():
    asked = {name: by for name, by in static_names().items() if not name.startswith("django_htmx/")}
    there = {str(path.relative_to(STATIC)) for path in STATIC.rglob("*") if path.is_file()}
    assert {name: by for name, by in asked.items() if name not in there} == {}
    assert there - set(asked) == set()


INLINE = {
    "a style attribute": re.compile(r"<[a-z][^>]*\sstyle\s*=", re.I),
    "a style element": re.compile(r"<style\b", re.I),
    "an event attribute": re.compile(r"<[a-z][^>]*\s(on[a-z]+|hx-on[:a-z-]*)\s*=", re.I),
    "a script without src": re.compile(r"<script\b(?![^>]*\bsrc=)", re.I),
    "a javascript: address": re.compile(r"(href|action)\s*=\s*[\"']?\s*javascript:", re.I),
}


@pytest.mark.parametrize("what", INLINE)
def test_templates_hold_nothing_inline(what):
    wrong = []
    for path in text_files("templates", ".html"):
        text = path.read_text()
        wrong += [f"{said(path)}:{text.count(chr(10), 0, m.start()) + 1}" for m in INLINE[what].finditer(text)]
    assert wrong == [], f"{what} breaks the content security policy"


def test_the_pattern_for_inline_things_finds_them():
    bad = {
        "a style attribute": '<p class="a" style="color:red">',
        "a style element": "<style>p{}</style>",
        "an event attribute": '<button type="button" onclick="go()">',
        "a script without src": "<script>go()</script>",
        "a javascript: address": '<a href="javascript:go()">',
    }
    assert {what for what, text in bad.items() if INLINE[what].search(text)} == set(INLINE)
    good = '<script src="a.js" defer></script><input name="style"><p class="on" data-on="x">'
    assert [what for what, pattern in INLINE.items() if pattern.search(good)] == []


def test_whatever_loads_htmx_forbids_it_to_run_words_as_code_and_to_ask_elsewhere():
    loading = [path for path in text_files("templates", ".html") if "htmx-2.min.js" in path.read_text()]
    assert loading
    for path in loading:
        config = json.loads(re.search(r"name=\"htmx-config\"\s+content='([^']+)'", path.read_text())[1])
        forbids = {"allowEval": False, "includeIndicatorStyles": False, "selfRequestsOnly": True}
        assert config == forbids | {"defaultSettleDelay": 0}, said(path)
