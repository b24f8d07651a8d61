"""A thing of known shape is put where its measured corners say."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import affinity
from shapely.geometry import Polygon

from motion.calibration.placing import place_outline
from motion.errors import FitError
from motion.scene.records import Pose

BANK = ((900.0, 500.0), (1200.0, 500.0), (1200.0, 750.0), (900.0, 750.0))
far = st.floats(-500, 500)


@given(turn=st.floats(-80, 80), dx=far, dy=far, seen=st.sets(st.integers(0, 3), min_size=2))
def test_it_finds_the_motion_that_shapely_made(turn: float, dx: float, dy: float, seen: set[int]) -> None:
    moved = affinity.translate(affinity.rotate(Polygon(BANK), turn, origin=(0, 0)), dx, dy)
    truth = list(moved.exterior.coords)[:4]
    found = place_outline(BANK, {i: truth[i] for i in seen})
    for got, wanted in zip(found.outline(BANK), truth, strict=True):
        assert math.dist(got, wanted) < 1e-6
    assert found.residual_mm < 1e-6
    assert found.pose(Pose(0, 0, 10)).heading_deg == pytest.approx(10 + turn)


def test_one_corner_moves_without_turning() -> None:
    found = place_outline(BANK, {2: (1210.0, 745.0)})
    assert (found.turn_deg, found.dx_mm, found.dy_mm) == (0.0, 10.0, -5.0)


def test_corners_that_do_not_fit_the_shape_leave_a_residual() -> None:
    found = place_outline(BANK, {0: (900.0, 500.0), 1: (1240.0, 500.0)})
    assert found.residual_mm == pytest.approx(20.0)


@pytest.mark.parametrize(("corners", "code"), [({}, "too_few"), ({4: (0.0, 0.0)}, "no_such_corner")])
def test_it_refuses_in_words(corners: dict[int, tuple[float, float]], code: str) -> None:
    with pytest.raises(FitError) as refused:
        place_outline(BANK, corners)
    assert refused.value.code == code
