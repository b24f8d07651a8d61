"""Nothing that serves pages comes to compiled kernels but by the way that waits for them."""

from __future__ import annotations

import ast

from tests.test_architecture import python_files, said

#: What computes with compiled kernels when it is called; drawing, times, fits and checks of scenes do not.
COMPUTES = (
    "motion.check",
    "motion.search",
    "motion.chance.montecarlo",
    "motion.chance.many",
    "motion.chance.learning",
    "motion.ground.kernels",
)
#: Whoever may: the way that waits, the work of jobs, commands that people run themselves, and compiling.
MAY_COMPUTE = {
    "planning/preparing/checks.py",
    "planning/courses/services/plan_team_course.py",
    "planning/feasibility/services/feasibility.py",
    "planning/feasibility/services/obstacle_places.py",
    "planning/management/commands/check_course.py",
    "planning/management/commands/plan_course.py",
    "config/process/warm.py",
}
#: Pages show something else where it cannot be computed yet, so these ask for themselves and need not wait.
ASKS_FIRST = {"planning/courses/learned.py", "planning/courses/pages/next_measurement.py"}


def test_pages_reach_compiled_kernels_by_the_one_way_that_waits():
    found = {
        said(path)
        for path in python_files("classroom", "missions", "planning", "config")
        for node in ast.walk(ast.parse(path.read_text()))
        if isinstance(node, ast.ImportFrom) and (node.module or "").startswith(COMPUTES)
    }
    assert found == MAY_COMPUTE | ASKS_FIRST


def test_who_need_not_wait_asks_before_computing():
    for path in python_files("planning"):
        if said(path) in ASKS_FIRST:
            text = path.read_text()
            assert 0 < text.index("kernels_ready()") < text.index("  # late:"), said(path)
