"""Whether the planner's kernels are compiled, and how far compiling is, for every process to read.

numba keeps what it compiled beside the sources (or in NUMBA_CACHE_DIR). Compiling takes minutes, so a process of its own
does it (``config/process/warm.py``) and tells here how far it is. A process that serves pages compiles nothing: it asks
``kernels_ready`` first and lets the page say that it waits.
"""

from __future__ import annotations

import functools
import hashlib
import importlib.metadata
import json
import os
import platform
import sys
import time
from dataclasses import dataclass
from pathlib import Path

from django.conf import settings

#: So long without a word from the compiling process, and it is taken to have ended.
SILENT_S = 180.0


@dataclass(frozen=True)
class Preparation:
    """How far compiling is: ``done`` of ``of`` kernels, told ``told_s`` ago (None: nobody has begun)."""

    done: int = 0
    of: int = 0
    failed: bool = False
    told_s: float | None = None

    @property
    def fraction(self) -> float:
        return min(1.0, self.done / self.of) if self.of else 0.0

    @property
    def goes_on(self) -> bool:
        return not self.failed and self.told_s is not None and self.told_s < SILENT_S


@dataclass
class _ThisProcess:
    compiles_as_called: bool = False
    still_loading: bool = False
    found_ready: bool = False


_here = _ThisProcess()


def kernels_ready() -> bool:
    """Whether a page may use them: calling one compiles nothing and, where they are loaded aside, waits for nothing."""
    if _here.compiles_as_called:
        return True
    if _here.still_loading:
        return False
    _here.found_ready = _here.found_ready or are_compiled()
    return _here.found_ready


def waits_for_planner() -> int | None:
    """For the tag of a live page that shows the bar: changes whenever the bar does. None when nobody waits."""
    return None if kernels_ready() else preparation().done


def compile_as_called() -> None:
    """For a process in which nobody waits at a page, such as the test suite: kernels compile when they are called."""
    _here.compiles_as_called = True


def loading_aside(still: bool) -> None:
    """A process that loads what was compiled in a thread of its own says so: until it has, its pages wait."""
    _here.still_loading = still


def are_compiled() -> bool:
    """Whether all of them are, from these sources, and lie where numba looks for them."""
    return all(path.exists() and path.read_text() == stamp_text() for path in (stamp_file(), begun_file()))


def cache_folder() -> Path:
    """Under what numba keeps what it compiled."""
    own = os.environ.get("NUMBA_CACHE_DIR")
    return Path(own) if own else Path(settings.BASE_DIR) / "motion"


def begun_file() -> Path:
    """Holds the stamp of the sources from which everything in the cache folder was compiled, all of it or not."""
    return cache_folder() / "__pycache__" / "sources.stamp"


def stamp_file() -> Path:
    """Holds the stamp of the sources that have been compiled to the end."""
    return Path(settings.DATA_DIR) / "warm.stamp"


@functools.cache
def stamp_text() -> str:
    """What the compiled kernels depend on, as this process found it. By time and size, as numba's own index goes."""
    sources = sorted((Path(settings.BASE_DIR) / "motion").rglob("*.py"))
    facts = [sys.version, platform.machine(), platform.processor(), importlib.metadata.version("numba")]
    facts += [f"{path} {path.stat().st_mtime_ns} {path.stat().st_size}" for path in sources]
    return hashlib.sha256("\n".join(facts).encode()).hexdigest()


def tell_preparation(done: int, of: int, *, failed: bool = False) -> None:
    """Say how far compiling is; whoever reads meanwhile reads this or what was told before."""
    write_whole(_told_file(), json.dumps({"done": done, "of": of, "failed": failed, "at": time.time()}))


def preparation() -> Preparation:
    """What was told last; all of it where they are compiled and this process only has to load them."""
    if are_compiled():
        return Preparation(1, 1, told_s=0.0)
    try:
        told = json.loads(_told_file().read_text())
    except (OSError, ValueError):
        return Preparation()
    return Preparation(told["done"], told["of"], told["failed"], max(0.0, time.time() - told["at"]))


def write_whole(path: Path, text: str) -> None:
    """Write a file of the data folder so that no reader ever finds half of it."""
    path.parent.mkdir(parents=True, exist_ok=True)
    part = path.with_name(f"{path.name}.{os.getpid()}")
    part.write_text(text)
    part.replace(path)


def _told_file() -> Path:
    return Path(settings.DATA_DIR) / "warm.json"
