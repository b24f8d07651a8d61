"""A survey by tape."""

import doctest
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import optimize

from motion.calibration import survey as survey_module
from motion.calibration.survey import survey
from motion.calibration.survey_readings import PicturePlaces, TapeReading
from motion.errors import FitError

WIDTH, DEPTH = 2400.0, 1200.0
CORNERS = {"near left": (0, 0), "near right": (WIDTH, 0), "far left": (0, DEPTH), "far right": (WIDTH, DEPTH)}


def taped(name, p, to, error=0.0, marks=None):
    places = CORNERS | (marks or {})
    if to in places:
        return TapeReading(name, to, math.dist(p, places[to]) + error)
    value = {"left": p[0], "right": WIDTH - p[0], "near": p[1], "far": DEPTH - p[1]}[to]
    return TapeReading(name, to, value + error)


inside = st.tuples(st.floats(300, WIDTH - 300), st.floats(250, DEPTH - 250))
pairs = st.sampled_from(
    [("near left", "near right"), ("left", "near"), ("left", "near right"), ("right", "far"), ("far left", "far right")]
)


@given(inside, pairs)
def test_two_exact_readings_give_the_exact_place(p, origins):
    found = survey(WIDTH, DEPTH, [taped("gate", p, to) for to in origins]).mark("gate")
    assert (found.x_mm, found.y_mm) == pytest.approx(p, abs=1e-4)
    assert not found.checked


@given(inside, st.integers(0, 2**31))
def test_redundant_readings_agree_with_scipys_least_squares(p, seed):
    rng = np.random.default_rng(seed)
    readings = [taped("gate", p, corner, rng.normal(0, 2)) for corner in CORNERS]
    whole = survey(WIDTH, DEPTH, readings)
    found = whole.mark("gate")

    def rest(q):
        return [(math.dist(q, CORNERS[r.to]) - r.distance_mm) / r.sd for r in readings]

    reference = optimize.least_squares(rest, p, xtol=1e-12, ftol=1e-12, gtol=1e-12)
    assert (found.x_mm, found.y_mm) == pytest.approx(reference.x, abs=1e-3)
    covariance = np.linalg.inv(reference.jac.T @ reference.jac)
    assert (found.sd_x_mm, found.sd_y_mm) == pytest.approx(np.sqrt(np.diag(covariance)), rel=1e-3)
    assert found.checked != bool(whole.again or whole.apart)  # now and then a reading stands out by luck alone


def test_the_stated_uncertainty_is_the_spread_of_repeated_surveys():
    rng = np.random.default_rng(1)
    p = (900.0, 500.0)
    exact = [taped("gate", p, to) for to in (*CORNERS, "near")]
    found = [
        survey(WIDTH, DEPTH, [TapeReading(r.mark, r.to, r.distance_mm + rng.normal(0, r.sd)) for r in exact]).mark(
            "gate"
        )
        for _ in range(600)
    ]
    assert np.std([m.x_mm for m in found]) == pytest.approx(found[0].sd_x_mm, rel=0.1)
    assert np.std([m.y_mm for m in found]) == pytest.approx(found[0].sd_y_mm, rel=0.1)


@pytest.mark.parametrize("bad", range(5))
def test_one_wrong_reading_is_the_one_to_take_again(bad):
    rng = np.random.default_rng(bad)
    p = (900.0, 500.0)
    readings = [
        taped("gate", p, to, rng.normal(0, 1) + (30 if i == bad else 0)) for i, to in enumerate((*CORNERS, "left"))
    ]
    result = survey(WIDTH, DEPTH, readings)
    assert result.again[0] == bad
    assert result.sentence.startswith(f"Take gate to {readings[bad].to} again")
    assert "more than the others say" in result.sentence


def test_honest_readings_are_seldom_to_be_taken_again():
    rng = np.random.default_rng(2)
    p = (900.0, 500.0)
    exact = [taped("gate", p, to) for to in (*CORNERS, "near")]
    alarms = sum(
        bool(
            survey(WIDTH, DEPTH, [TapeReading(r.mark, r.to, r.distance_mm + rng.normal(0, r.sd)) for r in exact]).again
        )
        for _ in range(1000)
    )
    assert alarms <= 12  # one in a thousand for each of five readings


def test_a_mark_is_measured_from_marks_and_is_less_sure_than_they():
    first, second, third = (700.0, 400.0), (1500.0, 500.0), (1100.0, 800.0)
    known = {"stone": first, "post": second}
    readings = [
        *(taped("stone", first, to) for to in ("near left", "near right", "left")),
        *(taped("post", second, to) for to in ("near left", "near right", "right")),
        *(taped("gate", third, to, marks=known) for to in ("stone", "post")),
        taped("gate", third, "near"),
    ]
    result = survey(WIDTH, DEPTH, readings[::-1])
    gate = result.mark("gate")
    assert (gate.x_mm, gate.y_mm) == pytest.approx(third, abs=1e-3)
    only_tape = survey(WIDTH, DEPTH, [taped("gate", third, "left"), taped("gate", third, "near")]).mark("gate")
    assert gate.sd_x_mm > 0.8 * only_tape.sd_x_mm
    assert result.sentence.startswith("All readings agree")


def test_two_marks_alone_leave_two_sides_and_say_both():
    known = {"stone": (700.0, 600.0), "post": (1700.0, 600.0)}
    readings = [taped(name, p, to) for name, p in known.items() for to in ("left", "near")]
    gate = [taped("gate", (1200.0, 900.0), to, marks=known) for to in known]
    with pytest.raises(FitError) as raised:
        survey(WIDTH, DEPTH, readings + gate)
    assert raised.value.code == "two_sides"
    assert "(1200, 900)" in raised.value.message and "(1200, 300)" in raised.value.message
    settled = survey(WIDTH, DEPTH, [*readings, *gate, taped("gate", (1200.0, 900.0), "far left")])
    assert settled.mark("gate").y_mm == pytest.approx(900.0, abs=1e-3)


@pytest.mark.parametrize(
    ("readings", "code"),
    [
        ([], "too_few"),
        ([TapeReading("gate", "left", 900)], "too_few"),
        ([TapeReading("gate", "left", 900), TapeReading("gate", "right", 1500)], "flat_triangle"),
        ([TapeReading("gate", "near left", 500), TapeReading("gate", "near right", 900)], "impossible_triangle"),
        ([TapeReading("gate", "near left", 2500), TapeReading("gate", "left", 2600)], "impossible_triangle"),
        ([TapeReading("gate", "near left", 1200), TapeReading("gate", "near right", 1201)], "flat_triangle"),
        ([TapeReading("gate", "left", math.nan), TapeReading("gate", "near", 1)], "not_finite"),
        ([TapeReading("gate", "left", -5), TapeReading("gate", "near", 1)], "absurd"),
        ([TapeReading("gate", "left", 90000), TapeReading("gate", "near", 1)], "absurd"),
        ([TapeReading("gate", "gate", 5), TapeReading("gate", "near", 1)], "itself"),
        ([TapeReading("near left", "left", 5)], "itself"),
        ([TapeReading("gate", "the moon", 5), TapeReading("gate", "near", 1)], "too_few"),
        ([TapeReading("a", "b", 500), TapeReading("b", "a", 500)], "too_few"),
        ([TapeReading("gate", "left", 5, 0.0), TapeReading("gate", "near", 1)], "absurd"),
    ],
)
def test_readings_that_cannot_be_are_refused_with_what_to_do(readings, code):
    with pytest.raises(FitError) as raised:
        survey(WIDTH, DEPTH, readings)
    assert raised.value.code == code
    assert raised.value.message.endswith(".")


def test_a_table_without_size_is_refused():
    with pytest.raises(FitError):
        survey(0.0, DEPTH, [TapeReading("gate", "left", 5), TapeReading("gate", "near", 5)])


@given(st.lists(st.tuples(st.sampled_from([*CORNERS, "left", "near"]), st.floats(0, 2600)), min_size=2, max_size=5))
def test_any_readings_are_a_survey_or_a_typed_error(pairs):
    try:
        result = survey(WIDTH, DEPTH, [TapeReading("gate", to, d) for to, d in pairs])
    except FitError:
        return
    assert math.isfinite(result.mark("gate").x_mm)


def test_the_examples_in_the_docstrings_hold():
    assert doctest.testmod(survey_module).failed == 0


@pytest.mark.parametrize("bad", range(3))
def test_with_one_spare_reading_nobody_is_blamed_and_nothing_is_called_checked(bad):
    """One equation too many says that something is wrong, and of no reading that it is the one."""
    p = (900.0, 500.0)
    readings = [taped("gate", p, to, 40 if i == bad else 0) for i, to in enumerate(("left", "near", "near right"))]
    result = survey(WIDTH, DEPTH, readings)
    assert set(result.apart) == set(result.again) == {0, 1, 2}
    assert not result.mark("gate").checked
    assert result.sentence == (
        "These do not fit together: gate to left, gate to near, gate to near right. "
        "One of them is wrong; measure one more to see which."
    )


def test_a_mark_with_a_reading_to_take_again_is_not_checked():
    p = (900.0, 500.0)
    result = survey(WIDTH, DEPTH, [taped("gate", p, to, 30 if to == "left" else 0) for to in (*CORNERS, "left")])
    assert (result.again[0], result.apart, result.mark("gate").checked) == (4, (), False)


def seen_as(places: dict[str, tuple[float, float]], sd: float = 2.0, shared: float = 0.0) -> PicturePlaces:
    """Places of a picture: each coordinate to ``sd``, and all of x and all of y together by ``shared``."""
    n = len(places)
    together = np.kron(np.ones((n, n)), np.eye(2))
    return PicturePlaces(
        tuple(places), np.array(list(places.values()), dtype=float), sd**2 * np.eye(2 * n) + shared**2 * together
    )


@given(inside, inside, st.floats(0.5, 4.0), st.floats(0.0, 3.0), st.integers(0, 10_000))
def test_tape_and_picture_are_one_fit_as_a_plain_solver_makes_it(p, q, sd, shared, seed):
    """The oracle minimises the same sum of squares by scipy, over places alone."""
    rng = np.random.default_rng(seed)
    true = {"gate": p, "bank": q}
    picture = seen_as({name: tuple(np.array(at) + rng.normal(0, 2, 2)) for name, at in true.items()}, sd, shared)
    readings = [
        taped("gate", p, "left", rng.normal(0, 2)),
        taped("gate", p, "near right", rng.normal(0, 2)),
        taped("bank", q, "far", rng.normal(0, 2)),
    ]
    root = np.linalg.cholesky(np.linalg.inv(picture.covariance)).T

    def off(v):
        at = {"gate": v[:2], "bank": v[2:]}
        tape = [(r.distance_mm - taped(r.mark, at[r.mark], r.to).distance_mm) / r.sd for r in readings]
        return np.concatenate([tape, root @ (picture.places_mm.ravel() - v)])

    best = optimize.least_squares(off, picture.places_mm.ravel(), xtol=1e-14, ftol=1e-14, gtol=1e-14).x
    found = survey(WIDTH, DEPTH, readings, picture)
    marks = [found.mark("gate"), found.mark("bank")]
    assert np.allclose([c for m in marks for c in (m.x_mm, m.y_mm)], best, atol=1e-3)
    assert len(found.residuals_mm) == len(found.standardised) == 3


def test_a_picture_alone_is_a_survey_that_nothing_checks_and_keeps_its_uncertainty():
    found = survey(WIDTH, DEPTH, [], seen_as({"gate": (900.0, 500.0), "bank": (1500.0, 300.0)}, sd=3.0))
    gate = found.mark("gate")
    assert (gate.x_mm, gate.y_mm, gate.checked) == (900.0, 500.0, False)
    assert gate.sd_x_mm == pytest.approx(3.0) and gate.sd_mm == pytest.approx(3.0)
    assert found.sentence == "Nothing checks gate yet; one more reading from another corner or edge would."


def test_one_tape_reading_checks_what_the_picture_shows_and_draws_its_neighbours_along():
    """What both places share is measured by the tape at one of them."""
    picture = seen_as({"gate": (900.0, 500.0), "bank": (1500.0, 300.0)}, sd=0.5, shared=5.0)
    found = survey(WIDTH, DEPTH, [TapeReading("gate", "left", 906.0, sd_mm=0.5)], picture)
    assert found.mark("gate").checked and not found.mark("bank").checked
    assert found.mark("bank").x_mm == pytest.approx(1506.0, abs=0.2)
    assert found.mark("bank").y_mm == pytest.approx(300.0)
    assert found.mark("bank").sd_x_mm < 1.0 < found.mark("bank").sd_y_mm


def test_a_tape_that_the_picture_contradicts_is_to_be_taken_again():
    picture = seen_as({"gate": (900.0, 500.0)})
    found = survey(WIDTH, DEPTH, [taped("gate", (900, 500), "near"), TapeReading("gate", "left", 940.0)], picture)
    assert found.again == (1,) and "Take gate to left again" in found.sentence
    assert not found.mark("gate").checked


def test_a_mark_may_be_taped_from_one_that_only_the_picture_shows():
    picture = seen_as({"gate": (900.0, 500.0)}, sd=0.1)
    readings = [TapeReading("bank", "gate", 500.0), TapeReading("bank", "near", 500.0)]
    assert survey(WIDTH, DEPTH, [*readings, TapeReading("bank", "left", 1400.0)], picture).mark(
        "bank"
    ).x_mm == pytest.approx(1400.0, abs=0.5)


@pytest.mark.parametrize(
    ("picture", "code"),
    [
        (PicturePlaces(("gate", "gate"), np.zeros((2, 2)), np.eye(4)), "itself"),
        (PicturePlaces(("left",), np.zeros((1, 2)), np.eye(2)), "itself"),
        (PicturePlaces(("gate",), np.zeros((2, 2)), np.eye(4)), "shape"),
        (PicturePlaces(("gate",), np.array([[np.nan, 1.0]]), np.eye(2)), "not_finite"),
        (PicturePlaces(("gate",), np.array([[9.0, 1.0]]), np.zeros((2, 2))), "bad_sd"),
        (PicturePlaces(("gate",), np.array([[9000.0, 1.0]]), np.eye(2)), "absurd"),
    ],
)
def test_places_that_no_picture_shows_are_refused(picture, code):
    with pytest.raises(FitError) as refused:
        survey(WIDTH, DEPTH, [], picture)
    assert refused.value.code == code
