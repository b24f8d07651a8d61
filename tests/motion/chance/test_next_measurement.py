"""Which measurement narrows a chance most: by made-up chances, and against really measuring in a simulation."""

from dataclasses import replace

import numpy as np
import pytest

from motion.calibration.knowledge import Fits, knowledge_from_fits
from motion.chance.hypotheses import drawn, pooled
from motion.chance.montecarlo import clean_by_hypothesis, success
from motion.chance.next_measurement import next_measurements
from motion.course.example import example_course
from motion.scene.example import example_scene

KNOWLEDGE, _ = knowledge_from_fits(Fits())
KINDS = {"straight", "spin", "set_down"}


@pytest.mark.parametrize(
    ("column", "kind"), [(0, "straight"), (2, "set_down"), (3, "spin"), (4, "spin"), (5, "straight")]
)
def test_what_the_chance_hangs_on_is_measured_first(column, kind):
    hypotheses = drawn(KNOWLEDGE, count=512)
    chances = 0.5 - 0.2 * np.log(hypotheses.spreads[:, column] / KNOWLEDGE.spreads[column].value)
    found = next_measurements(KNOWLEDGE, hypotheses, chances, 0.4)
    assert {each.kind for each in found} == KINDS
    assert found[0].kind == kind
    assert found[0].width_then < 0.7 * found[0].width_now < found[1].width_then


def test_a_chance_that_hangs_on_nothing_is_not_narrowed():
    hypotheses = drawn(KNOWLEDGE, count=128)
    for each in next_measurements(KNOWLEDGE, hypotheses, np.full(128, 0.7), 0.1):
        assert each.width_then == each.width_now == 0.1


def test_measuring_really_narrows_the_range_about_as_much_as_was_said():
    """Set-downs of robots drawn from what is known, measured ten times each, and the range that is left on average."""
    scene, actions = replace(example_scene(), systematic=KNOWLEDGE.mean), example_course()
    scene = replace(scene, target=replace(scene.target, window=replace(scene.target.window, lateral_mm=18)))
    hypotheses = drawn(KNOWLEDGE)
    known = replace(scene, hypotheses=hypotheses)
    now = success(known, scene.start, actions)
    chances = clean_by_hypothesis(known, scene.start, actions)
    said = {each.kind: each for each in next_measurements(KNOWLEDGE, hypotheses, chances, now.high - now.low)}
    rng = np.random.default_rng(8)
    widths = []
    for h in rng.integers(0, 256, 40):
        true = hypotheses.spreads[h]
        spreads = list(KNOWLEDGE.spreads)
        for column, free in ((1, 18.0), (2, 9.0)):
            measured = true[column] * np.sqrt(rng.chisquare(free) / free)
            spreads[column] = pooled(float(measured), free, KNOWLEDGE.spreads[column].value)
        u = replace(KNOWLEDGE.u, start_x_mm=0.7, start_y_mm=0.7, start_heading_deg=0.25)  # of the means of ten
        after = drawn(replace(KNOWLEDGE, spreads=tuple(spreads), u=u))
        later = success(replace(scene, hypotheses=after), scene.start, actions)
        widths.append(later.high - later.low)
    assert said["set_down"].width_then == pytest.approx(float(np.mean(widths)), rel=0.3)
