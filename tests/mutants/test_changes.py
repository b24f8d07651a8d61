"""The faults are the ones they say, one at a time, and reach a function wherever it was imported."""

from __future__ import annotations

import ast
import sys
import types

import pytest

from tests.mutants.changes import changed, changes_of, drawn
from tests.mutants.graft import graft
from tests.mutants.report import END, SURVIVORS, TABLE, Report, Result, on_the_page
from tests.mutants.targets import targets

SOURCE = '''
import functools
from dataclasses import dataclass

MOST = 3
TWICE = MOST * 2


@dataclass(frozen=True)
class Bar:
    target: float = 0.5

    @property
    def is_low(self):
        return self.target < 0.2


def loud(function):
    @functools.wraps(function)
    def inner(*args):
        return function(*args)

    return inner


@loud
def over(count, most=MOST):
    """More than the most."""
    if count > most and count:
        return "too_many"
    return None


@functools.cache
def kept(n):
    return n + 1
'''


def names(source, **how):
    return [change.name for change in changes_of(source, **how)]


@pytest.mark.parametrize(
    ("source", "found"),
    [
        ("def f(a): return a < 3", ["f: return a < 3 -> return None", "f: a < 3 -> a <= 3", "f: a < 3 -> a < 4", "f: a < 3 -> a < 2"]),
        ("X = 0.5", ["module: X = 0.5 -> X = 0.55", "module: X = 0.5 -> X = 0.45"]),
        ("X = -1", ["module: -1 -> +1"]),
        ("DUST = 1e-9", []),
        ("X: int = 3", ["module: X: int = 3 -> X: int = 4", "module: X: int = 3 -> X: int = 2"]),
        ("X = True", ["module: X = True -> X = False"]),
        ("X = 'code'", ["module: X = 'code' -> X = 'code~'"]),
        ("X = 'A sentence.'", []),
        ("x.y = z", ["module: x.y = z -> (left out)"]),
        ("a.filter(b=c)", ["module: a.filter(b=c) -> (left out)", "module: a.filter(b=c) -> a.exclude(b=c)", "module: filter by b=c -> (left out)"]),
        ("a.order_by('-b', 'c')", ["module: a.order_by('-b', 'c') -> (left out)", "module: a.order_by('-b', 'c') -> a.order_by('b', 'c')", "module: a.order_by('-b', 'c') -> a.order_by('-b', '-c')"]),
        ("x = min(a, b)", ["module: min(a, b) -> max(a, b)"]),
        ("if a: b()", ["module: if a -> if not a", "module: b() -> (left out)"]),
        ("x = not a", ["module: not a -> a"]),
        ("log.info('said')", []),
        ("assert a < 3", []),
        ("def f(a): 'The words of it.'", []),
    ],
)  # fmt: skip
def test_each_place_has_its_faults(source, found):
    assert names(source) == found


def test_sentences_are_changed_where_they_are_what_is_made():
    assert names("X = f'{a} runs.'") == []
    assert names("X = f'{a} runs.'", words=True) == ["module: f'{a} runs.' -> f'{a} runs.~'"]


def test_the_same_fault_twice_in_a_function_is_told_apart():
    assert names("def f(a):\n a.x = 1\n a.x = 1")[3:] == [
        "f: a.x = 1 -> (left out) (2)",
        "f: a.x = 1 -> a.x = 2 (2)",
        "f: a.x = 1 -> a.x = 0 (2)",
    ]


def test_a_changed_source_differs_in_one_place_and_can_be_run():
    whole = ast.unparse(ast.parse(SOURCE))
    for change in changes_of(SOURCE):
        tree, _ = changed(SOURCE, change)
        compile(tree, "made-up", "exec")
        assert ast.unparse(tree) != whole


def test_the_lot_is_always_the_same_and_hardly_moves_with_the_source():
    every = changes_of(SOURCE)
    some = drawn(every, 5, "1")
    assert len(some) == 5 and some == drawn(every, 5, "1") != drawn(every, 5, "2")
    more = changes_of(SOURCE + "\n\ndef g(a):\n    return a\n")
    assert len({change.name for change in some} & {change.name for change in drawn(more, 5, "1")}) >= 4


@pytest.fixture
def modules():
    """A module, and one that has imported from it."""
    module, user = types.ModuleType("tests.made_up"), types.ModuleType("tests.made_up_user")
    module.__file__ = "made_up.py"
    sys.modules.update({"tests.made_up": module, "tests.made_up_user": user})
    exec(compile(SOURCE, "made_up.py", "exec"), vars(module))
    for name in ("MOST", "TWICE", "Bar", "over", "kept"):
        setattr(user, name, getattr(module, name))
    yield module, user
    del sys.modules["tests.made_up"], sys.modules["tests.made_up_user"]


@pytest.mark.parametrize(
    ("after", "read", "before", "then"),
    [
        ("count >= most", lambda m: m.over(3), None, "too_many"),
        ("return 'too_many~'", lambda m: m.over(4), "too_many", "too_many~"),
        ("MOST = 4", lambda m: (m.MOST, m.TWICE, m.over(4)), (3, 6, "too_many"), (4, 8, None)),
        ("target: float = 0.45", lambda m: m.Bar().target, 0.5, 0.45),
        ("self.target <= 0.2", lambda m: m.Bar(0.2).is_low, False, True),
        ("n - 1", lambda m: m.kept(1), 2, 0),
    ],
)
def test_a_fault_is_there_for_whoever_imported_it_before(modules, after, read, before, then):
    module, user = modules
    (change,) = [change for change in changes_of(SOURCE) if change.after == after]
    old = user.Bar()
    assert read(user) == before
    graft(module, SOURCE, change)
    assert read(user) == read(module) == then
    assert isinstance(old, module.Bar) and module.Bar is user.Bar


def test_every_module_that_decides_has_tests_of_its_own():
    assert [target.path for target in targets() if not target.tests] == []
    assert "missions/readiness/rules/answer.py" in {target.path for target in targets()}


PAGE = f"Words.\n\n{TABLE}\n{END}\n\nMore words.\n\n{SURVIVORS}\n{END}\nThe end.\n"


def test_a_page_keeps_what_was_found_and_is_read_back():
    why = {("a.py", "f: x -> y"): "equivalent: nobody sees x.", ("b.py", "g: 1 -> 2"): "a matter of taste."}
    results = [Result("a.py", 10, 3.0, ["f: x -> y"]), Result("b.py", 5, 2.0, ["g: 1 -> 2"]), Result("c.py", 4, 1.0)]
    report = Report(results, why)
    page = report.written(PAGE)
    assert "| `a.py` | 10 | 1 | 9 | 100 % | 3 |\n| `b.py` | 5 | 0 | 4 | 80 % | 2 |" in page
    assert "19 changes in 3 modules, 1 of them equivalent, 17 noticed: 94.4 % of the rest, in 6 s" in page
    assert "- `f: x -> y`: Equivalent: nobody sees x.\n\n`b.py`\n\n- `g: 1 -> 2`: A matter of taste." in page
    assert list(on_the_page(page).values()) == results
    assert report.written(page) == page and page.endswith("The end.\n") and report.holds()


def test_the_measure_fails_under_nine_in_ten_or_without_a_reason():
    assert not Report([Result("a.py", 10, 0.0, ["f: x -> y"])], {}).holds()
    assert Report([Result("a.py", 10, 0.0, ["f: x -> y"])], {("a.py", "f: x -> y"): "a matter of taste."}).holds()
    two = {("a.py", name): "a matter of taste." for name in "xy"}
    assert not Report([Result("a.py", 10, 0.0, ["x", "y"])], two).holds()
    assert (
        Report([Result("a.py", 10, 0.0, ["x", "y"])], two | {("a.py", "x"): "equivalent: the same."}).unexplained == []
    )
