from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from missions.readiness.pages.landing_plot import EDGE, SIZE, plot_of
from missions.runs.landing import KEEP, Landed, keep_landed, side_in_words, spread

WINDOW = {"lateral_mm": 60, "short_mm": 20, "long_mm": 30}
LENGTHS = st.floats(-500, 500, allow_nan=False)


def test_a_side_that_stands_out_is_said_in_the_clubs_unit():
    kept = [[40, 0, None], [45, 2, None], [38, -2, None], [44, 1, None]]
    assert side_in_words(kept, WINDOW, "cm") == "lands 4.2 cm left (4 runs measured)"
    assert side_in_words(kept, WINDOW, "in").startswith("lands 1.6 in left")


def test_both_directions_are_said_when_both_stand_out():
    kept = [[-40, -18, None], [-45, -19, None], [-38, -17, None]]
    assert side_in_words(kept, WINDOW, "cm") == "lands 4.1 cm right and 1.8 cm short (3 runs measured)"


def test_scatter_about_the_line_is_no_side():
    assert side_in_words([[40, 0, None], [-45, 2, None], [38, -2, None], [-35, 0, None]], WINDOW, "cm") == ""


def test_two_runs_are_too_few_to_tell_a_side():
    assert side_in_words([[50, 0, None], [50, 1, None]], WINDOW, "cm") == ""


def test_a_sure_but_small_miss_is_not_worth_a_word():
    assert side_in_words([[10, 0, None], [10.1, 0, None], [9.9, 0, None]], WINDOW, "cm") == ""


@given(st.lists(LENGTHS, min_size=2, max_size=12).filter(lambda v: np.std(v) > 1e-6))
def test_the_interval_of_the_mean_is_students(values):
    """scipy.stats.t.interval is the independent reference."""
    found = spread(values)
    low, high = stats.t.interval(0.95, len(values) - 1, np.mean(values), stats.sem(values))
    assert found.mean - found.half == pytest.approx(low, abs=1e-6)
    assert found.mean + found.half == pytest.approx(high, abs=1e-6)


def test_only_the_last_measured_landings_are_kept():
    kept = []
    for i in range(KEEP + 5):
        kept = keep_landed(kept, Landed(float(i), 0.0))
        kept = keep_landed(kept, Landed(None, None))
    assert len(kept) == KEEP
    assert kept[-1][0] == KEEP + 4


def test_nothing_measured_is_no_plot():
    assert plot_of([], WINDOW, "cm") is None


def test_left_is_up_and_too_far_is_right():
    plot = plot_of([(30.0, 20.0, True, "")], WINDOW, "cm")
    dot = plot.dots[0]
    assert dot.x > plot.centre and dot.y < plot.centre
    assert plot.mean is None


@given(
    st.lists(st.tuples(LENGTHS, LENGTHS, st.booleans(), st.just("")), min_size=1, max_size=30),
    st.sampled_from(["cm", "in", "mm"]),
)
def test_every_run_and_the_window_are_inside_the_drawing(runs, unit):
    plot = plot_of(runs, WINDOW, unit)
    for dot in plot.dots:
        assert EDGE - 1 <= dot.x <= SIZE - EDGE + 1
        assert EDGE - 1 <= dot.y <= SIZE - EDGE + 1
    assert plot.window.x >= EDGE - 1 and plot.window.x + plot.window.width <= SIZE - EDGE + 1
    assert 2 <= len(plot.x_ticks) <= 8
