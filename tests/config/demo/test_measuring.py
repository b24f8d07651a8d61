"""What the demonstration's teams read when they measure is what their robots do in their runs."""

from __future__ import annotations

import numpy as np
import pytest

from classroom.robots.kinds import KINDS
from classroom.robots.kinds.set_down import SET_DOWN
from classroom.robots.kinds.spin import SPIN
from classroom.robots.kinds.straight import STRAIGHT
from config.demo import measuring
from config.demo.measuring import measured_runs
from motion.chance.simulate import Manner
from motion.scene.records import Noise
from tests import factories as make

MANNER = Manner(distance_scale=0.98, turn_scale=1.01, turn_bias_deg=-1.5, drift_deg_per_m=2.5)
SCATTER = Noise(0, 4, 1.2, 1.1, 0.9, 0.005, turn_growth_sd_deg=0.8)


def fitted(kind: str, monkeypatch):
    """Of so many readings that chance is small."""
    monkeypatch.setattr(measuring, "OFTEN", 300)
    monkeypatch.setattr(measuring, "SET_DOWNS", 600)
    runs = measured_runs(kind, MANNER, SCATTER, np.random.default_rng(1))
    return KINDS[kind].fit_runs(make.RobotFactory.build(), runs)


def test_straight_runs_tell_the_scale_the_curve_and_how_it_is_set_down(monkeypatch):
    fit = fitted(STRAIGHT.key, monkeypatch)
    assert fit.scale == pytest.approx(0.98, abs=0.001)
    assert fit.fraction_sd == pytest.approx(0.005, rel=0.1)
    assert fit.drift_deg_per_m == pytest.approx(2.5, abs=0.5)
    assert fit.start_heading_sd_deg == pytest.approx(1.2, rel=0.15)


def test_spins_of_two_sizes_tell_scale_and_bias_and_how_a_turn_scatters(monkeypatch):
    fit = fitted(SPIN.key, monkeypatch)
    assert fit.turn_scale == pytest.approx(1.01, abs=0.001)
    assert fit.turn_bias_deg == pytest.approx(-1.5, abs=0.4)
    assert fit.sd_of_turn(90) == pytest.approx(SCATTER.turn_sd(90), rel=0.12)
    assert fit.sd_of_turn(720) == pytest.approx(SCATTER.turn_sd(720), rel=0.12)


def test_setting_down_tells_place_and_heading(monkeypatch):
    fit = fitted(SET_DOWN.key, monkeypatch)
    assert fit.position_sd_mm == pytest.approx(4, rel=0.1)
    assert fit.heading_sd_deg == pytest.approx(1.2, rel=0.1)
