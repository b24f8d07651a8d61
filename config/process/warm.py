"""Compiling the planner's kernels once, and knowing that it has been done.

Numba keeps what it compiled beside the sources (or in NUMBA_CACHE_DIR); the stamp in the data folder says for which
sources, compiler and processor that was.
"""

from __future__ import annotations

import hashlib
import importlib.metadata
import os
import platform
import sys
from pathlib import Path

from django.conf import settings


def compile_all() -> None:
    """Compile every kernel, and only once for each version of the sources.

    Numba looks at a kernel's own file alone: one that was inlined into others may have changed without their noticing.
    So what was compiled from other sources goes first.
    """
    from motion.search.warm import compile_kernels  # late: it brings every kernel in

    beside = cache_folder() / "__pycache__" / "sources.stamp"
    if not beside.exists() or beside.read_text() != stamp_text():
        for compiled in cache_folder().rglob("*.nb[ci]"):
            compiled.unlink(missing_ok=True)
    compile_kernels()
    for stamp in (beside, stamp_file()):
        stamp.parent.mkdir(parents=True, exist_ok=True)
        stamp.write_text(stamp_text())


def load_all() -> None:
    """Load what was compiled, by planning one small course each way."""
    # Late: these bring the kernels in, which a process that only looks at the stamp never needs.
    from motion.search.plan import plan_courses
    from motion.search.warm import WARM_SCENE  # late, as above

    plan_courses(WARM_SCENE, "all")


def warm_up_checks() -> None:
    """Load what checking a team's draft needs; small enough for the web process."""
    from motion.check import check_course  # late, as in load_all
    from motion.course.actions import Drive  # late, as in load_all
    from motion.search.warm import WARM_SCENE  # late, as above

    assert WARM_SCENE.start is not None
    check_course(WARM_SCENE, WARM_SCENE.start, (Drive(100.0),), runs=200)


def cache_folder() -> Path:
    """Under what numba keeps what it compiled."""
    own = os.environ.get("NUMBA_CACHE_DIR")
    return Path(own) if own else Path(settings.BASE_DIR) / "motion"


def stamp_text() -> str:
    """What the compiled kernels depend on. By time and size, as numba's own index goes."""
    sources = sorted((Path(settings.BASE_DIR) / "motion").rglob("*.py"))
    facts = [sys.version, platform.machine(), platform.processor(), importlib.metadata.version("numba")]
    facts += [f"{path} {path.stat().st_mtime_ns} {path.stat().st_size}" for path in sources]
    return hashlib.sha256("\n".join(facts).encode()).hexdigest()


def stamp_file() -> Path:
    return Path(settings.DATA_DIR) / "warm.stamp"


def is_warm() -> bool:
    path = stamp_file()
    return path.exists() and path.read_text() == stamp_text()
