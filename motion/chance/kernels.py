"""Many runs of one course at once, compiled.

Runs go in blocks that stay in the processor's cache. Within a block every action is one loop over runs of plain
float32 arithmetic that the compiler turns into vector instructions; sine and cosine of the small heading errors are
polynomials. What is walked are deviations from the exact course, so float32 loses nothing that matters.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit

from motion.chance.kernels_lines import before_lines, lines_of
from motion.ground.kernels import leg_free, pose_free, turn_free
from motion.ground.kernels_base import inside_base

BLOCK = 512
TURN, MOVE, TOOL, WAIT = 0, 1, 2, 3
CLEAN, LATERAL, HEADING, SHORT, LONG, NOT_HOME, TOUCHED = 0, 1, 2, 3, 4, 5, 6
#: Rows of the noise matrix before those of the single actions: scale, start x, start y, start heading.
COMMON = 4
#: A bound on a run's departure must be this much (mm) below the room before its exact test is left out.
GATE_MM = 0.01

_GATE = np.float32(GATE_MM)
_PER_TURN = np.float32(1.0 / (2.0 * math.pi))
_TURN = np.float32(2.0 * math.pi)
_HALF, _QUARTER, _ONE, _TWO = np.float32(0.5), np.float32(0.25), np.float32(1.0), np.float32(2.0)
_S3, _S5, _S7 = np.float32(-1 / 6), np.float32(1 / 120), np.float32(-1 / 5040)
_C4, _C6, _C8 = np.float32(1 / 24), np.float32(-1 / 720), np.float32(1 / 40320)


@njit(cache=True, fastmath=True, inline="always")
def _sine_cosine(angle):
    """Sine and cosine in float32 for |angle| <= pi: Taylor polynomials of a quarter of it, doubled twice."""
    q = angle * _QUARTER
    q2 = q * q
    s = q * (_ONE + q2 * (_S3 + q2 * (_S5 + q2 * _S7)))
    c = _ONE + q2 * (-_HALF + q2 * (_C4 + q2 * (_C6 + q2 * _C8)))
    s, c = _TWO * s * c, _ONE - _TWO * s * s
    return _TWO * s * c, _ONE - _TWO * s * s


@njit(cache=True, fastmath=True)
def _turn_block(e, own, start, sd, absolute):
    if absolute:
        for i in range(e.size):
            e[i] = start[i] + sd * own[i]
    else:
        for i in range(e.size):
            e[i] = e[i] + sd * own[i]


@njit(cache=True, fastmath=True)
def _move_block(dx, dy, e, chord, far, scale, own, drift, d, c, s, length_sd, drift_sd):
    """One leg of a block; leaves each run's chord heading error in ``chord``; ``far``: angles may exceed pi."""
    for i in range(dx.size):
        bend = drift_sd * drift[i]
        middle = e[i] + _HALF * bend
        chord[i] = middle
        if far:
            middle = middle - _TURN * np.floor(middle * _PER_TURN + _HALF)
        sine, cosine = _sine_cosine(middle)
        length = d * (_ONE + scale[i]) + length_sd * own[i]
        dx[i] += length * (c * cosine - s * sine) - d * c
        dy[i] += length * (s * cosine + c * sine) - d * s
        e[i] = e[i] + bend


@njit(cache=True, fastmath=True)
def _start_block(dx, dy, e, start, scale, z, sd, at):
    for i in range(dx.size):
        scale[i] = sd[0] * z[0, at + i]
        dx[i] = sd[1] * z[1, at + i]
        dy[i] = sd[2] * z[2, at + i]
        e[i] = sd[3] * z[3, at + i]
        start[i] = e[i]


@njit(cache=True, fastmath=True)
def _window_block(dx, dy, e, along, lateral, turned, c, s, at_along, at_lateral, at_heading):
    for i in range(dx.size):
        along[i] = at_along + c * dx[i] + s * dy[i]
        lateral[i] = at_lateral + c * dy[i] - s * dx[i]
        h = at_heading + e[i]
        turned[i] = h - _TURN * np.floor(h * _PER_TURN + _HALF)


@njit(cache=True, fastmath=True)
def _inside_block(along, lateral, turned, window):
    count = 0
    for i in range(along.size):
        inside = (
            (abs(lateral[i]) <= window[0])
            & (abs(turned[i]) <= window[1])
            & (along[i] >= -window[2])
            & (along[i] <= window[3])
        )
        count += inside
    return count


@njit(cache=True)
def count_in_window(z, kind, value, cosine, sine, sd_common, sd_one, sd_two, absolute, aim, window, far):
    """How many runs end the course within the window; nothing is kept, no collisions.

    Parameters
    ----------
    z
        Standard normal numbers, float32, shape (4 + 2 n or more, runs).
    kind, value, cosine, sine
        (n,) of each action: TURN, MOVE, TOOL or WAIT; rad or mm; of the exact heading before it. float32.
    sd_common, sd_one, sd_two
        (4,), (n,), (n,) float32: scale, start x, y, heading; turn (rad) or length (mm); drift (rad).
    aim
        (5,) float32: cosine and sine of the push heading; the exact course's miss along, lateral (mm), heading (rad).
    window
        (4,) float32: lateral (mm), heading (rad), short, long (mm).
    far
        Whether heading errors may exceed pi.
    """
    runs = z.shape[1]
    count = 0
    dx, dy, e = np.empty(BLOCK, np.float32), np.empty(BLOCK, np.float32), np.empty(BLOCK, np.float32)
    start, scale, chord = np.empty(BLOCK, np.float32), np.empty(BLOCK, np.float32), np.empty(BLOCK, np.float32)
    along, lateral, turned = np.empty(BLOCK, np.float32), np.empty(BLOCK, np.float32), np.empty(BLOCK, np.float32)
    for at in range(0, runs, BLOCK):
        n = min(BLOCK, runs - at)
        bx, by, be = dx[:n], dy[:n], e[:n]
        _start_block(bx, by, be, start[:n], scale[:n], z, sd_common, at)
        for k in range(kind.size):
            row = COMMON + 2 * k
            if kind[k] == TURN:
                _turn_block(be, z[row, at : at + n], start[:n], sd_one[k], absolute)
            elif kind[k] == MOVE:
                _move_block(
                    bx, by, be, chord[:n], far, scale[:n], z[row, at : at + n], z[row + 1, at : at + n],
                    value[k], cosine[k], sine[k], sd_one[k], sd_two[k],
                )  # fmt: skip
        _window_block(bx, by, be, along[:n], lateral[:n], turned[:n], aim[0], aim[1], aim[2], aim[3], aim[4])
        count += _inside_block(along[:n], lateral[:n], turned[:n], window)
    return count


@njit(cache=True)
def _action_free(kind, walls, body, other, x, y, heading, amount):
    """Exact test of one action of one run: a turn by ``amount`` rad, a leg of ``amount`` mm, or a tool."""
    if kind == MOVE:
        return leg_free(walls, body, x, y, math.cos(heading), math.sin(heading), amount)
    if not pose_free(walls, body, x, y, heading):
        return False
    if kind == TURN:
        return turn_free(walls, body, x, y, heading, amount)
    return pose_free(walls, other, x, y, heading)


@njit(cache=True, fastmath=True)
def _missed_block(along, lateral, turned, window, missed):
    """First way in which each run of a block misses its window, or CLEAN."""
    for i in range(missed.size):
        how = LONG if along[i] > window[3] else CLEAN
        how = SHORT if along[i] < -window[2] else how
        how = HEADING if abs(turned[i]) > window[1] else how
        missed[i] = LATERAL if abs(lateral[i]) > window[0] else how


@njit(cache=True, fastmath=True)
def _bounds_block(x0, y0, x1, y1, first, second, reach, bound):
    """How far (mm) any point of each run's body may be from where the exact action has it."""
    for i in range(bound.size):
        far = max(x0[i] * x0[i] + y0[i] * y0[i], x1[i] * x1[i] + y1[i] * y1[i])
        bound[i] = np.sqrt(far) + reach * max(abs(first[i]), abs(second[i])) + _GATE


@njit(cache=True)
def _keep_home(left, alive, x, y, e, pose, home_room, base, base_convex, body, outcome):
    """Keep those of ``left`` that end wholly inside the base; returns how many."""
    if home_room == math.inf:
        return alive
    kept = 0
    for j in range(alive):
        i = left[j]
        off = math.sqrt(x[i] * x[i] + y[i] * y[i]) + body.reach * abs(e[i]) + GATE_MM
        if off < home_room or inside_base(base, base_convex, body, pose[0] + x[i], pose[1] + y[i], pose[2] + e[i]):
            left[kept] = i
            kept += 1
        else:
            outcome[i] = NOT_HOME
    return kept


@njit(cache=True)
def run_outcomes(
    z, kind, value, cosine, sine, sd_common, sd_one, sd_two, absolute, aim, window, far,
    poses, room, stage, lowered, end_lowered, landing, home_room, out, push, home, travel, working, base, base_convex,
    detail, outcome,
):  # fmt: skip
    """What becomes of every run.

    Parameters
    ----------
    z to far
        As ``count_in_window``.
    poses
        (n + 1, 3) float64: the exact course's x, y (mm) and heading (rad), start first.
    room
        (n,) least room of each exact action to the walls of its stage (mm); -inf makes every test exact.
    stage, lowered
        (n,) 0 out, 1 push or back, 2 home; whether the working footprint holds.
    end_lowered
        Whether it still holds after the last action.
    landing
        Index of the last push.
    home_room
        How far inside the base the exact course ends (mm); -inf tests exactly; inf asks for no coming home.
    out, push, home, travel, working, base, base_convex
        As in ``clearance.Ground``.
    detail
        False: a run that misses its window is not tested for touching, and its outcome is any one that applies. True:
        the outcome is the first failure in time.
    outcome
        (runs,) int16, filled: CLEAN, LATERAL, HEADING, SHORT, LONG, NOT_HOME, or TOUCHED + the action's index.

    Returns
    -------
    int
        How many exact tests were made.
    """
    n_actions = kind.size
    tests = 0
    order = np.arange(n_actions) if detail else np.argsort(room)  # the tightest action ends most runs
    end_body = working if end_lowered else travel
    reach = np.float32(max(travel.reach, working.reach) * 1.00001)
    lines = np.zeros((n_actions, max(out.start.size, home.start.size) + 3, 4))
    counts = np.zeros(n_actions, np.int64)
    for k in range(n_actions):
        if room[k] > -math.inf and kind[k] <= MOVE:
            walls = out if stage[k] == 0 else (push if stage[k] == 1 else home)
            body = working if lowered[k] else travel
            counts[k] = walls.start.size + 3
            lines_of(kind[k] == TURN, walls, body, poses[k, 0], poses[k, 1], poses[k, 2], value[k], lines[k])
    xs = np.zeros((n_actions + 1, BLOCK), np.float32)
    ys = np.zeros((n_actions + 1, BLOCK), np.float32)
    es = np.zeros((n_actions + 1, BLOCK), np.float32)
    chords = np.zeros((n_actions, BLOCK), np.float32)
    start, scale = np.empty(BLOCK, np.float32), np.empty(BLOCK, np.float32)
    along, lateral, turned = np.empty(BLOCK, np.float32), np.empty(BLOCK, np.float32), np.empty(BLOCK, np.float32)
    missed, left = np.empty(BLOCK, np.int16), np.empty(BLOCK, np.int64)
    bound = np.zeros(BLOCK, np.float32)
    for at in range(0, z.shape[1], BLOCK):
        n = min(BLOCK, z.shape[1] - at)
        _start_block(xs[0, :n], ys[0, :n], es[0, :n], start[:n], scale[:n], z, sd_common, at)
        for k in range(n_actions):
            xs[k + 1, :n], ys[k + 1, :n], es[k + 1, :n] = xs[k, :n], ys[k, :n], es[k, :n]
            row = COMMON + 2 * k
            if kind[k] == TURN:
                _turn_block(es[k + 1, :n], z[row, at : at + n], start[:n], sd_one[k], absolute)
            elif kind[k] == MOVE:
                _move_block(
                    xs[k + 1, :n], ys[k + 1, :n], es[k + 1, :n], chords[k, :n], far, scale[:n],
                    z[row, at : at + n], z[row + 1, at : at + n],
                    value[k], cosine[k], sine[k], sd_one[k], sd_two[k],
                )  # fmt: skip
        _window_block(
            xs[landing + 1, :n], ys[landing + 1, :n], es[landing + 1, :n], along[:n], lateral[:n], turned[:n],
            aim[0], aim[1], aim[2], aim[3], aim[4],
        )  # fmt: skip
        _missed_block(along[:n], lateral[:n], turned[:n], window, missed[:n])
        alive = 0
        for i in range(n):
            if missed[i] == CLEAN or detail:
                left[alive] = i
                alive += 1
            else:
                outcome[at + i] = missed[i]
        if not detail:
            alive = _keep_home(
                left, alive, xs[-1], ys[-1], es[-1], poses[-1], home_room, base, base_convex, end_body, outcome[at:]
            )
        for k in order:
            if kind[k] != WAIT:
                first, second = (chords[k], chords[k]) if kind[k] == MOVE else (es[k], es[k + 1])
                _bounds_block(xs[k], ys[k], xs[k + 1], ys[k + 1], first, second, reach, bound)
                walls = out if stage[k] == 0 else (push if stage[k] == 1 else home)
                body = working if lowered[k] else travel
                kept = 0
                for j in range(alive):
                    i = left[j]
                    free = bound[i] < room[k]
                    if not free:
                        x, y = poses[k, 0] + xs[k, i], poses[k, 1] + ys[k, i]
                        if kind[k] == MOVE:
                            heading = poses[k, 2] + chords[k, i]
                            amount = value[k] * (1.0 + scale[i]) + sd_one[k] * z[COMMON + 2 * k, at + i]
                        else:
                            heading = poses[k, 2] + es[k, i]
                            amount = poses[k + 1, 2] + es[k + 1, i] - heading
                        free = counts[k] > 0 and before_lines(
                            kind[k] == TURN, lines[k], counts[k], bound[i], body, x, y, heading, amount
                        )
                        if not free:
                            tests += 1
                            free = _action_free(kind[k], walls, body, travel, x, y, heading, amount)
                    if free:
                        left[kept] = i
                        kept += 1
                    else:
                        outcome[at + i] = TOUCHED + k
                alive = kept
            if detail and k == landing:
                kept = 0
                for j in range(alive):
                    i = left[j]
                    if missed[i] == CLEAN:
                        left[kept] = i
                        kept += 1
                    else:
                        outcome[at + i] = missed[i]
                alive = kept
        if detail:
            alive = _keep_home(
                left, alive, xs[-1], ys[-1], es[-1], poses[-1], home_room, base, base_convex, end_body, outcome[at:]
            )
        for j in range(alive):
            outcome[at + left[j]] = CLEAN
    return tests
