"""The examples in motion's docstrings run and say the truth, and every public function of the numbers has one."""

from __future__ import annotations

import doctest
import importlib
import pkgutil

import pytest

import motion

MODULES = sorted(m.name for m in pkgutil.walk_packages(motion.__path__, "motion."))


@pytest.mark.parametrize("name", MODULES)
def test_the_examples_of_a_module_are_true(name):
    assert doctest.testmod(importlib.import_module(name)).failed == 0
