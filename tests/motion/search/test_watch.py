"""A deadline or a cancel is heard inside kernels, which would else go on for ever."""

from __future__ import annotations

import threading

import numpy as np
import pytest

from motion.errors import CancelledError, DeadlineError
from motion.search.kernels.graph import search
from motion.search.kernels.moves import nothing_tested
from motion.search.kernels.refine import Held, Patience, refine
from motion.search.nodes import positions
from motion.search.phases import Caution, Phases
from motion.search.watch import Watch
from tests.motion.scenes import plain_scene

ENDLESS = Patience(1e6, 0, 0, 10**15, 60.0, 1.0, 1)


def _endless(task) -> None:
    way, signs = np.array([(900.0, 700.0), (1600.0, 600.0)]), np.ones(2)
    refine(task, way, signs, 0.0, np.zeros((1, 2)), Held(False, False), ENDLESS)


@pytest.mark.parametrize(
    ("error", "how"),
    [(CancelledError, {"cancelled": lambda: True}), (DeadlineError, {"deadline": lambda: -1.0})],
)
def test_an_endless_kernel_ends_when_planning_is_to_end(error, how):
    begun = threading.Event()
    late = {name: (lambda ask=ask, name=name: ask() if begun.is_set() else _go_on(name)) for name, ask in how.items()}
    scene = plain_scene()
    with Watch(None, late.get("deadline"), late.get("cancelled")) as watch:
        task = Phases(scene, watch.stop).out_task(Caution(), scene.start)
        watch.tick()
        begun.set()
        _endless(task)
        with pytest.raises(error):
            watch.tick()


def _go_on(name: str):
    return False if name == "cancelled" else None


def test_a_search_that_is_stopped_finds_nothing():
    scene = plain_scene()
    phases = Phases(scene)
    task = phases.out_task(Caution(), scene.start)
    graph = positions(task)
    tested = nothing_tested(graph, 1)
    assert search(task, graph, tested, np.zeros((1, 2)), 4, 1.2, 8).found > 0
    phases.stop[0] = 1
    assert search(task, graph, tested, np.zeros((1, 2)), 4, 1.2, 8).found == 0


def test_a_watch_that_nobody_asks_needs_no_thread():
    before = threading.active_count()
    with Watch(None, None, None) as watch:
        assert threading.active_count() == before
        watch.tick()
