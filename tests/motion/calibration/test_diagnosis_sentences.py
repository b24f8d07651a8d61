"""A whole diagnosis told: every verdict's sentence, evidence and advice in full."""

from __future__ import annotations

from dataclasses import dataclass

import pytest

from motion.calibration.diagnosis_sentences import Explained, tell
from motion.chance.logged import Miss


@dataclass(frozen=True)
class Cause:
    parameter: str
    sentence: str
    size: float = 1.0


BIAS = Cause("turn_bias", "turns come out 5.0 ± 0.8 degrees too big")
ASIDE = Cause("target_lateral", "the target stands 30 ± 6 mm farther to the left than the plan has it")
OFF = Cause("start_heading", "it starts turned 2.0 ± 0.4 degrees to the left")
SIDE = [Miss(20.0)] * 4
CHANGED = "Measure the robot again: something may have changed, such as its wheels, its load or its battery."
NUMBERS = "Type the corrected numbers, run again, and change nothing else."
THINK = "Change no numbers. Think what happened in run 3: a bump, a wheel that slipped, a start set down askew."
STANDS_OUT = "Run 3 stands out: it landed 150 mm shorter than the others."


@pytest.mark.parametrize(
    ("found", "sentence", "evidence", "advice"),
    [
        (
            Explained("too_few", 1, SIDE[:1]),
            "Too few measured runs to tell.",
            "Rests on 1 run: on average 20 mm left.",
            "Measure where 2 more runs land.",
        ),
        (
            Explained("no_pattern", 4, SIDE),
            "No pattern: the misses scatter as widely as this robot always does.",
            "Rests on 4 runs: on average 20 mm left.",
            "Change no numbers yet. Set the robot down more exactly, or draw a course that lands more steadily.",
        ),
        (
            Explained("no_pattern", 4, SIDE, wider=True),
            "No pattern, but the misses scatter wider than this robot usually does.",
            "Rests on 4 runs: on average 20 mm left.",
            f"Change no numbers yet. {CHANGED}",
        ),
        (
            Explained("no_pattern", 4, SIDE, off=True),
            "The runs miss by more than this robot's scatter, and no cause known here explains it.",
            "Rests on 4 runs: on average 20 mm left.",
            "Change no numbers yet. Log a few more runs, of another course as well.",
        ),
        (
            Explained("no_pattern", 5, SIDE, [(3, 0, -150.0)]),
            f"{STANDS_OUT} The others scatter as widely as this robot always does.",
            "Rests on 4 runs without run 3: on average 20 mm left.",
            f"{THINK} Then log a few more runs.",
        ),
        (
            Explained("no_pattern", 5, SIDE, [(3, 0, -150.0)], wider=True, off=True),
            f"{STANDS_OUT} The others scatter wider than this robot usually does.",
            "Rests on 4 runs without run 3: on average 20 mm left.",
            f"{THINK} {CHANGED}",
        ),
        (
            Explained("no_pattern", 5, SIDE, [(3, 0, -150.0)], off=True),
            f"{STANDS_OUT} The others miss by more than this robot's scatter, and no cause known here explains it.",
            "Rests on 4 runs without run 3: on average 20 mm left.",
            f"{THINK} Then log a few more runs.",
        ),
        (
            Explained("pattern", 4, SIDE, findings=[BIAS]),
            "Turns come out 5.0 ± 0.8 degrees too big.",
            "Rests on 4 runs: on average 20 mm left.",
            NUMBERS,
        ),
        (
            Explained("pattern", 4, SIDE, findings=[BIAS, OFF], off=True),
            "Turns come out 5.0 ± 0.8 degrees too big and it starts turned 2.0 ± 0.4 degrees to the left.",
            "Rests on 4 runs: on average 20 mm left.",
            NUMBERS,
        ),
        (
            Explained("pattern", 4, SIDE, findings=[BIAS], wider=True),
            "Turns come out 5.0 ± 0.8 degrees too big.",
            "Rests on 4 runs: on average 20 mm left. They scatter wider than this robot usually does.",
            f"{NUMBERS} {CHANGED}",
        ),
        (
            Explained("pattern", 5, SIDE, [(3, 0, -150.0)], [BIAS]),
            f"{STANDS_OUT} Without it, turns come out 5.0 ± 0.8 degrees too big.",
            "Rests on 4 runs without run 3: on average 20 mm left.",
            NUMBERS,
        ),
        (
            Explained("pattern", 8, SIDE, [(3, 0, -150.0), (5, 1, 90.0)], [ASIDE], [OFF]),
            "Run 3 and run 5 stand out: they landed 150 mm shorter and 90 mm farther to the left than the others. Without "
            "them, the target stands 30 ± 6 mm farther to the left than the plan has it; or else it starts turned 2.0 ± 0.4 "
            "degrees to the left.",
            "Rests on 6 runs without run 3 and run 5: on average 20 mm left.",
            "These runs cannot tell the causes apart; a tape from two edges to the target, then a start against a square "
            "block will. Until then try the first.",
        ),
    ],
)
def test_every_verdict_is_told_in_whole_sentences(found, sentence, evidence, advice):
    told = tell(found)
    assert (told.sentence, told.evidence, told.advice) == (sentence, evidence, advice)


@pytest.mark.parametrize("verdict", ["no_pattern", "pattern"])
@pytest.mark.parametrize("slips", [[], [(3, 0, -150.0)]])
def test_nobody_is_told_that_runs_scatter_as_always_when_they_scatter_wider(verdict, slips):
    told = tell(Explained(verdict, 5, SIDE, slips, [BIAS] if verdict == "pattern" else [], wider=True))
    assert "always" not in told.sentence + told.evidence
    assert "wider than this robot usually does" in told.sentence + told.evidence
    assert "Measure the robot again" in told.advice


def test_of_what_is_not_said_nothing_is_told():
    told = tell(Explained("no_pattern", 4, SIDE))
    assert told.sentence == tell(Explained("no_pattern", 4, SIDE, wider=False, off=False)).sentence
    assert "wider" not in told.sentence + told.evidence
