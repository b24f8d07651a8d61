"""The examples in motion's docstrings run and say the truth."""

from __future__ import annotations

import doctest
import importlib
import pkgutil

import pytest

import motion


@pytest.mark.parametrize("name", sorted(m.name for m in pkgutil.iter_modules(motion.__path__)))
def test_the_examples_of_a_module_are_true(name):
    assert doctest.testmod(importlib.import_module(f"motion.{name}")).failed == 0
