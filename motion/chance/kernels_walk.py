"""Walking many runs of one course at once, compiled.

Runs go in blocks that stay in the processor's cache. Within a block every action is one loop over runs of plain
float32 arithmetic that the compiler turns into vector instructions; sine and cosine of the small heading errors are
polynomials. What is walked are deviations from the exact course, so float32 loses nothing that matters.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from motion.compiled import inner, inner_fast, inner_maker

TURN, MOVE, TOOL, WAIT = 0, 1, 2, 3
CLEAN, LATERAL, HEADING, SHORT, LONG, NOT_HOME, TOUCHED = 0, 1, 2, 3, 4, 5, 6
#: Rows of the noise matrix before those of the single actions: scale, start x, start y, start heading.
COMMON = 4

_PER_TURN = np.float32(1.0 / (2.0 * math.pi))
_TURN = np.float32(2.0 * math.pi)
_HALF, _QUARTER, _ONE, _TWO = np.float32(0.5), np.float32(0.25), np.float32(1.0), np.float32(2.0)
_S3, _S5, _S7 = np.float32(-1 / 6), np.float32(1 / 120), np.float32(-1 / 5040)
_C4, _C6, _C8 = np.float32(1 / 24), np.float32(-1 / 720), np.float32(1 / 40320)


class Program(NamedTuple):
    """A course of n actions and H hypotheses about a robot as the kernels want them; float32 all arrays but ``kind``.

    ``kind``, ``value``, ``cosine``, ``sine`` (n,) of each action: TURN, MOVE, TOOL or WAIT; rad or mm; of the exact
    heading before it. ``sd_common``, ``mean_common`` (H, 4): spread and mean of scale, start x, y, heading; ``sd_one``,
    ``mean_one`` (H, n): of each turn (rad) or length (mm), a length's own mean being 0 since distances are told as they
    are meant; ``sd_two``, ``mean_two`` (H, n): of each leg's drift (rad).
    ``absolute``: turns undo what the heading has drifted. ``landing``: index of the last push. ``aim`` (7,): cosine and
    sine of the push heading; the exact course's miss of the axle along, lateral (mm), heading (rad); where the nose is
    ahead of the axle and to its left (mm). ``window`` (4,): lateral (mm), heading (rad), short, long (mm). ``far``: heading errors may exceed pi.
    """

    kind: NDArray[np.int64]
    value: NDArray[np.float32]
    cosine: NDArray[np.float32]
    sine: NDArray[np.float32]
    sd_common: NDArray[np.float32]
    mean_common: NDArray[np.float32]
    sd_one: NDArray[np.float32]
    mean_one: NDArray[np.float32]
    sd_two: NDArray[np.float32]
    mean_two: NDArray[np.float32]
    absolute: bool
    landing: int
    aim: NDArray[np.float32]
    window: NDArray[np.float32]
    far: bool


class Block(NamedTuple):
    """Deviations of B runs from the exact course at one moment, (B,) float32: ``x``, ``y`` (mm), ``e`` (rad).

    ``chord``: heading error of the last leg's chord. ``start``, ``scale``: heading error at the start, error of all
    lengths. ``missed``: how each run misses its window, or CLEAN.
    """

    x: NDArray[np.float32]
    y: NDArray[np.float32]
    e: NDArray[np.float32]
    chord: NDArray[np.float32]
    start: NDArray[np.float32]
    scale: NDArray[np.float32]
    missed: NDArray[np.int64]


@inner_maker
def empty_block(runs):
    """Room for the deviations of so many runs."""
    return Block(
        np.zeros(runs, np.float32), np.zeros(runs, np.float32), np.zeros(runs, np.float32), np.zeros(runs, np.float32),
        np.zeros(runs, np.float32), np.zeros(runs, np.float32), np.zeros(runs, np.int64),
    )  # fmt: skip


@inner
def share_of_runs(program, h, runs):
    """First of the runs of hypothesis h, and the one after its last."""
    count = program.sd_common.shape[0]
    return h * runs // count, (h + 1) * runs // count


@inner_fast
def _sine_cosine(angle):
    """Sine and cosine in float32 for |angle| <= pi: Taylor polynomials of a quarter of it, doubled twice."""
    q = angle * _QUARTER
    q2 = q * q
    s = q * (_ONE + q2 * (_S3 + q2 * (_S5 + q2 * _S7)))
    c = _ONE + q2 * (-_HALF + q2 * (_C4 + q2 * (_C6 + q2 * _C8)))
    s, c = _TWO * s * c, _ONE - _TWO * s * s
    return _TWO * s * c, _ONE - _TWO * s * s


@inner_fast
def begin(block, program, h, z, at, runs):
    """Put runs ``at`` and on of the noise matrix z at the start, all of hypothesis h."""
    x, y, e, start, scale = block.x, block.y, block.e, block.start, block.scale
    sd, mean = program.sd_common[h], program.mean_common[h]
    z0, z1, z2, z3 = z[0, at : at + runs], z[1, at : at + runs], z[2, at : at + runs], z[3, at : at + runs]
    for i in range(runs):
        scale[i] = mean[0] + sd[0] * z0[i]
        x[i] = mean[1] + sd[1] * z1[i]
        y[i] = mean[2] + sd[2] * z2[i]
        e[i] = mean[3] + sd[3] * z3[i]
        start[i] = e[i]


@inner_fast
def _turn(block, program, h, z, k, at, runs):
    """One turn."""
    e, start, sd, mean = block.e, block.start, program.sd_one[h, k], program.mean_one[h, k]
    own = z[COMMON + 2 * k, at : at + runs]
    if program.absolute:
        for i in range(runs):
            e[i] = start[i] + mean + sd * own[i]
    else:
        for i in range(runs):
            e[i] = e[i] + mean + sd * own[i]


@inner_fast
def _move(block, program, h, z, k, at, runs):
    """One leg; leaves each run's chord heading error."""
    x, y, e, chord, scale = block.x, block.y, block.e, block.chord, block.scale
    d, c, s = program.value[k], program.cosine[k], program.sine[k]
    length_sd, drift_sd, curve = program.sd_one[h, k], program.sd_two[h, k], program.mean_two[h, k]
    far, row = program.far, COMMON + 2 * k
    own, drift = z[row, at : at + runs], z[row + 1, at : at + runs]
    for i in range(runs):
        bend = curve + drift_sd * drift[i]
        middle = e[i] + _HALF * bend
        chord[i] = middle
        if far:
            middle = middle - _TURN * np.floor(middle * _PER_TURN + _HALF)
        sine, cosine = _sine_cosine(middle)
        length = d * (_ONE + scale[i]) + length_sd * own[i]
        x[i] += length * (c * cosine - s * sine) - d * c
        y[i] += length * (s * cosine + c * sine) - d * s
        e[i] = e[i] + bend


@inner_fast
def _judge(block, program, runs):
    """First way in which each run misses its window, or CLEAN."""
    x, y, e, missed, aim, window = block.x, block.y, block.e, block.missed, program.aim, program.window
    c, s, at_along, at_lateral, at_heading, reach, left = aim[0], aim[1], aim[2], aim[3], aim[4], aim[5], aim[6]
    most_lateral, most_turned, least_along, most_along = window[0], window[1], -window[2], window[3]
    for i in range(runs):
        turned = at_heading + e[i]
        turned = turned - _TURN * np.floor(turned * _PER_TURN + _HALF)
        sine, cosine = _sine_cosine(turned)
        along = at_along + c * x[i] + s * y[i] + reach * (cosine - _ONE) - left * sine
        lateral = at_lateral + c * y[i] - s * x[i] + reach * sine + left * (cosine - _ONE)
        how = LONG if along > most_along else CLEAN
        how = SHORT if along < least_along else how
        how = HEADING if abs(turned) > most_turned else how
        missed[i] = LATERAL if abs(lateral) > most_lateral else how


@inner
def act(block, program, h, z, k, at, runs):
    """Walk the runs through action k; after the last push say how each misses its window."""
    if program.kind[k] == MOVE:
        _move(block, program, h, z, k, at, runs)
    elif program.kind[k] == TURN:
        _turn(block, program, h, z, k, at, runs)
    if k == program.landing:
        _judge(block, program, runs)
