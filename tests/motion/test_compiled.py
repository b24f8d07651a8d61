"""Kernels give back every array that they make: inner functions count no references, and those that make arrays do."""

import gc
from collections.abc import Iterator

import pytest
from numba.core.runtime import _nrt_python, rtsys

from motion.check import check_course
from motion.search.plan import plan_courses
from motion.search.warm import WARM_SCENE


@pytest.fixture
def counted() -> Iterator[None]:
    before = _nrt_python.memsys_stats_enabled()
    _nrt_python.memsys_enable_stats()
    yield
    if not before:
        _nrt_python.memsys_disable_stats()


def _held() -> int:
    gc.collect()
    stats = rtsys.get_allocation_stats()
    return stats.mi_alloc - stats.mi_free


@pytest.mark.parametrize("exact", [True, False])
def test_a_plan_and_its_check_leave_no_array_of_a_kernel_behind(counted, exact):
    (course,) = plan_courses(WARM_SCENE, "steadiest", exact=exact)  # caches of modules are filled
    before = _held()
    made = rtsys.get_allocation_stats().mi_alloc
    (again,) = plan_courses(WARM_SCENE, "steadiest", exact=exact)
    check = check_course(WARM_SCENE, again.start, again.actions, runs=2000)
    assert again == course and check.clear
    assert rtsys.get_allocation_stats().mi_alloc > made + 1000, "kernels made arrays, and that is counted"
    del again, check
    assert _held() == before
