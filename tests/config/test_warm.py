"""Compiling: what is kept, what goes, what is told, and when it counts as done."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest
from django.conf import settings as site

import config.process.warm as warm
from planning.preparing.kernels import Preparation, are_compiled, preparation, tell_preparation
from tests.patience import until


def nothing_to_tell(done: int, of: int) -> None:
    pass


@pytest.fixture
def own_folders(tmp_path, monkeypatch, settings) -> Path:
    """An empty data folder and an empty cache of compiled kernels."""
    settings.DATA_DIR = tmp_path / "data"
    monkeypatch.setenv("NUMBA_CACHE_DIR", str(tmp_path / "cache"))
    return tmp_path


def compiled(folder: Path, name: str) -> Path:
    """What numba would keep of a kernel."""
    kept = folder / "cache" / "motion_1" / f"{name}-1.py311.1.nbc"
    kept.parent.mkdir(parents=True, exist_ok=True)
    kept.touch()
    return kept


def test_what_other_sources_compiled_goes_before_compiling_anew(own_folders, monkeypatch):
    """numba looks at a kernel's own file alone, so a changed kernel could live on inside the ones that inline it."""
    stale = compiled(own_folders, "kernels.leg_free")
    monkeypatch.setattr("motion.search.warm.compile_kernels", lambda: None)
    warm.compile_all(nothing_to_tell)
    assert not stale.exists()
    assert are_compiled()
    kept = compiled(own_folders, "kernels.leg_free")
    warm.compile_all(nothing_to_tell)
    assert kept.exists(), "the same sources keep what they compiled"


def test_what_was_compiled_before_an_end_in_the_middle_is_kept(own_folders, monkeypatch):
    def half() -> None:
        compiled(own_folders, "kernels.leg_free")
        raise KeyboardInterrupt

    monkeypatch.setattr("motion.search.warm.compile_kernels", half)
    with pytest.raises(KeyboardInterrupt):
        warm.compile_all(nothing_to_tell)
    assert not are_compiled()
    monkeypatch.setattr("motion.search.warm.compile_kernels", lambda: None)
    warm.compile_all(nothing_to_tell)
    assert compiled(own_folders, "kernels.leg_free").exists()
    assert are_compiled()


def test_kernels_whose_files_are_gone_do_not_count_as_compiled(own_folders, monkeypatch):
    monkeypatch.setattr("motion.search.warm.compile_kernels", lambda: None)
    warm.compile_all(nothing_to_tell)
    monkeypatch.setenv("NUMBA_CACHE_DIR", str(own_folders / "another"))
    assert not are_compiled()


def test_how_far_it_is_is_read_as_it_was_told(own_folders):
    assert preparation() == Preparation()
    assert not preparation().goes_on, "nobody has begun"
    tell_preparation(31, 72)
    told = preparation()
    assert (told.done, told.of, told.goes_on) == (31, 72, True)
    assert told.fraction == pytest.approx(31 / 72)
    tell_preparation(31, 72, failed=True)
    assert not preparation().goes_on


def test_a_word_that_was_cut_off_is_no_word(own_folders):
    tell_preparation(31, 72)
    (site.DATA_DIR / "warm.json").write_text('{"done": 3')
    assert preparation() == Preparation()


def test_compiling_that_has_been_silent_for_long_is_taken_to_have_ended():
    assert Preparation(31, 72, told_s=20.0).goes_on
    assert not Preparation(31, 72, told_s=200.0).goes_on


def warm_in_a_process(folder: Path) -> subprocess.Popen[bytes]:
    env = os.environ | {
        "DJANGO_SETTINGS_MODULE": "config.settings.local",
        "HELMROOM_DATA": str(folder / "data"),
        "NUMBA_CACHE_DIR": str(folder / "cache"),
    }
    return subprocess.Popen([sys.executable, str(site.BASE_DIR / "manage.py"), "warm"], env=env)


@pytest.mark.slow
def test_compiling_that_was_killed_goes_on_where_it_was(own_folders):
    """With the compiler itself, as far as the first three kernels, which take seconds."""

    def wait_for(process: subprocess.Popen[bytes], kernels: int) -> list[int]:
        told: list[int] = []

        def look() -> bool:
            assert process.poll() is None, "it ended by itself"
            found = preparation()
            if found.of and found.done not in told:
                told.append(found.done)
            return told[-1:] >= [kernels]

        until(look, f"{kernels} kernels")
        return told

    first = warm_in_a_process(own_folders)
    try:
        wait_for(first, 2)
    finally:
        first.kill()
        first.wait()
    (site.DATA_DIR / "warm.json").unlink()
    second = warm_in_a_process(own_folders)
    try:
        assert wait_for(second, 3)[0] >= 2
    finally:
        second.kill()
        second.wait()
    assert not are_compiled()
