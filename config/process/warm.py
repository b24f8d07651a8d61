"""Compiling the planner's kernels once, and loading what was compiled."""

from __future__ import annotations

import importlib
import pkgutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager

from planning.preparing.kernels import begun_file, cache_folder, stamp_file, stamp_text, write_whole

#: ``tell(done, of)``: so many of the kernels are compiled.
Tell = Callable[[int, int], None]


def compile_all(tell: Tell) -> None:
    """Compile every kernel, and only once for each version of the sources; what an earlier try compiled is kept.

    Numba looks at a kernel's own file alone: one that was inlined into others may have changed without their noticing.
    So what was compiled from other sources goes first.
    """
    from motion.search.warm import compile_kernels  # late: it brings every kernel in

    stamp = stamp_text()
    if not begun_file().exists() or begun_file().read_text() != stamp:
        for compiled in cache_folder().rglob("*.nb[ci]"):
            compiled.unlink(missing_ok=True)
        write_whole(begun_file(), stamp)
    with _told(tell):
        compile_kernels()
    write_whole(stamp_file(), stamp)


@contextmanager
def _told(tell: Tell) -> Iterator[None]:
    """Tell after each function that numba has compiled, by what it has kept: a second try goes on where the first was."""
    from numba.core import event  # late: numba is loaded where kernels are, not for every command

    of = _count_kernels()

    def look() -> None:
        tell(min(of, len(list(cache_folder().rglob("*.nbi")))), of)

    class Listener(event.Listener):
        def on_start(self, _: object) -> None:
            pass

        def on_end(self, _: object) -> None:
            look()

    look()
    with event.install_listener("numba:compile", Listener()):
        yield
    tell(of, of)


def _count_kernels() -> int:
    from numba.core.dispatcher import Dispatcher  # late: as above

    import motion  # late: with all that is in it

    names = [module.name for module in pkgutil.walk_packages(motion.__path__, "motion.")]
    return sum(
        isinstance(value, Dispatcher) and value.py_func.__module__ == name
        for name in names
        for value in vars(importlib.import_module(name)).values()
    )


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
