from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from missions.readiness.pages.landing_plot import EDGE, SIZE, LoggedLanding, plot_of
from missions.runs.landing import spread

WINDOW = {"lateral_mm": 60, "short_mm": 20, "long_mm": 30}
LENGTHS = st.floats(-500, 500, allow_nan=False)


@given(st.lists(LENGTHS, min_size=2, max_size=12).filter(lambda v: np.std(v) > 1e-6))
def test_the_interval_of_the_mean_is_students(values):
    """scipy.stats.t.interval is the independent reference."""
    found = spread(values)
    low, high = stats.t.interval(0.95, len(values) - 1, np.mean(values), stats.sem(values))
    assert found.mean - found.half == pytest.approx(low, abs=1e-6)
    assert found.mean + found.half == pytest.approx(high, abs=1e-6)


def test_nothing_measured_is_no_plot():
    assert plot_of([], WINDOW, "cm") is None


def test_left_is_up_and_too_far_is_right():
    plot = plot_of([LoggedLanding(30.0, 20.0, True, "")], WINDOW, "cm")
    dot = plot.dots[0]
    assert dot.x > plot.centre and dot.y < plot.centre
    assert plot.mean is None


@given(
    st.lists(
        st.builds(LoggedLanding, LENGTHS, LENGTHS, st.booleans(), st.just(""), st.booleans()), min_size=1, max_size=30
    ),
    st.sampled_from(["cm", "in", "mm"]),
)
def test_every_run_and_the_window_are_inside_the_drawing(runs, unit):
    plot = plot_of(runs, WINDOW, unit)
    for dot in plot.dots:
        assert EDGE - 1 <= dot.x <= SIZE - EDGE + 1
        assert EDGE - 1 <= dot.y <= SIZE - EDGE + 1
    assert plot.window.x >= EDGE - 1 and plot.window.x + plot.window.width <= SIZE - EDGE + 1
    assert 2 <= len(plot.x_ticks) <= 8


def test_the_outlined_middle_is_that_of_the_landings_that_count():
    old = [LoggedLanding(-80.0, -80.0, False, "", False)] * 5
    new = [LoggedLanding(30.0, 20.0, True, ""), LoggedLanding(34.0, 22.0, True, "")]
    both, alone = plot_of([*old, *new], WINDOW, "cm"), plot_of([*old[:1], *new], WINDOW, "cm")
    assert len(both.dots) == 7 and both.counted == 2
    assert both.mean == alone.mean and both.mean.x > both.centre
