"""The examples in motion's docstrings run and say the truth, and every public function of the numbers has one."""

from __future__ import annotations

import doctest
import importlib
import inspect
import pkgutil
from collections.abc import Iterator
from types import FunctionType

import pytest

import motion

MODULES = sorted(m.name for m in pkgutil.walk_packages(motion.__path__, "motion."))

#: Public functions for which an example would be longer than it is worth.
WITHOUT_EXAMPLE = frozenset(
    {
        # Inner steps of the search: they take a packed task or a finder in the midst of its work.
        # `plan_courses` is the way in and has an example.
        "motion.search.other_sides.outs_round_other_sides",
        "motion.search.many.tours_for",
        "motion.search.orders.cheapest_tours",
        "motion.search.nodes.base_aims",
        "motion.search.nodes.crossing_of_lines",
        "motion.search.nodes.positions",
        "motion.search.nodes.slits",
        "motion.search.paths.find_paths",
        "motion.search.mending.mend_of",
        "motion.search.proof.explain_no_course",
        "motion.search.proof.surely_none",
        "motion.search.proof.tightest_place",
        "motion.search.rounding.rounded_into_base",
        "motion.search.rounding.rounded_to_goal",
        "motion.search.steadiest.steadiest",
        "motion.search.steadying.steadied",
        "motion.search.wholes.different_parts",
        "motion.search.wholes.first_homes",
        "motion.search.wholes.first_outs",
        "motion.search.wholes.no_whole",
        "motion.search.wholes.pick_different",
        # Plan many courses, so they take longer than a reader of an example waits.
        "motion.search.obstacle_places.propose_obstacles",
        "motion.search.warm.compile_kernels",
        # Matrices between a course and what is said of it; `grow` and `landing` show what comes of them.
        "motion.chance.error.chain_of",
        "motion.chance.error.exact",
        "motion.chance.error.first_order",
        "motion.chance.error.sensitivity",
        "motion.chance.landing.landing_errors",
        "motion.chance.landing.parameter_jacobian",
        # A course packed for the compiled runs; `success` shows what comes of it.
        "motion.chance.program.program_of",
        # Parts of a drawing, long lines of SVG; `course_svg` draws the whole.
        "motion.picture.sheet.dial",
        "motion.picture.sheet.grid",
        "motion.picture.sheet.patterns",
        "motion.picture.sheet.scale_bar",
    }
)


def public_functions() -> Iterator[tuple[str, FunctionType]]:
    """Functions that modules define for others, those that remember their answers too; not what is compiled."""
    for name in MODULES:
        if "kernels" in name or "compiled" in name:
            continue
        for word, thing in vars(importlib.import_module(name)).items():
            function = inspect.unwrap(thing) if callable(thing) else thing
            if isinstance(function, FunctionType) and function.__module__ == name and not word.startswith("_"):
                yield f"{name}.{word}", function


def has_example(function: FunctionType) -> bool:
    return ">>>" in (function.__doc__ or "")


@pytest.mark.parametrize("name", MODULES)
def test_the_examples_of_a_module_are_true(name):
    assert doctest.testmod(importlib.import_module(name)).failed == 0


def test_every_public_function_has_an_example():
    without = {name for name, function in public_functions() if not has_example(function)}
    assert without - WITHOUT_EXAMPLE == set()


def test_what_is_listed_without_an_example_exists_and_has_none():
    assert {name for name, function in public_functions() if not has_example(function)} >= WITHOUT_EXAMPLE
