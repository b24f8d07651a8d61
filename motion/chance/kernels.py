"""What becomes of many runs of one course, compiled: which miss, touch something, or do not come home."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from motion.chance.kernels_lines import before_lines, lines_of, sweep_of
from motion.chance.kernels_walk import (
    CLEAN,
    COMMON,
    MOVE,
    NOT_HOME,
    TOUCHED,
    TURN,
    WAIT,
    Program,
    act,
    begin,
    empty_block,
    share_of_runs,
)
from motion.compiled import inner, inner_fast, inner_maker, kernel
from motion.ground.geometry import Body, Walls
from motion.ground.kernels import leg_is_free, pose_free, turn_free
from motion.ground.kernels_base import Homing, is_inside_base

BLOCK = 512
#: A bound on a run's departure must be this much (mm) below the room before its exact test is left out.
GATE_MM = 0.01
_GATE = np.float32(GATE_MM)


class Nominal(NamedTuple):
    """The exact course of n actions that runs depart from.

    ``poses`` (n + 1, 3): x, y (mm) and heading (rad), start first. ``room`` (n,) least room of each exact action to the
    walls of its stage (mm); -inf makes every test exact. ``stage``, ``lowered`` (n,): 0 out, 1 push or back, 2 home;
    whether the working footprint holds. ``home_room``: how far inside the base the course ends (mm); -inf tests exactly; inf asks for no coming home.
    """

    poses: NDArray[np.float64]
    room: NDArray[np.float64]
    stage: NDArray[np.int64]
    lowered: NDArray[np.bool_]
    home_room: float


class Surroundings(NamedTuple):
    """The walls of the three stages and the two bodies as in :class:`motion.ground.clearance.Ground`.

    ``homing``: when the body that holds at the end is home.
    """

    out: Walls
    push: Walls
    home: Walls
    travel: Body
    working: Body
    homing: Homing


class Gate(NamedTuple):
    """What spares exact tests: ``lines`` (n, W, 4) before which a body is free in each action, ``counts`` (n,) of them.

    ``bound`` (B,): how far (mm) any point of each run's body may be from where the exact action has it.
    """

    lines: NDArray[np.float64]
    counts: NDArray[np.int64]
    bound: NDArray[np.float32]


@inner
def _holding(around, stage, lowered):
    """The walls and the body that hold in an action."""
    walls = around.out if stage == 0 else (around.push if stage == 1 else around.home)
    return walls, around.working if lowered else around.travel


@inner_maker
def _gate(program, nominal, around):
    """The lines of every action that has room."""
    actions = program.kind.size
    most = max(around.out.pieces.size, around.home.pieces.size) + 4
    gate = Gate(np.zeros((actions, most, 4)), np.zeros(actions, np.int64), np.zeros(BLOCK, np.float32))
    _draw_lines(program, nominal, around, gate)
    return gate


@inner
def _draw_lines(program, nominal, around, gate):
    """Draw the lines of a gate."""
    for k in range(program.kind.size):
        if nominal.room[k] > -math.inf and program.kind[k] <= MOVE:
            walls, body = _holding(around, nominal.stage[k], nominal.lowered[k])
            pose = nominal.poses[k]
            sweep = sweep_of(program.kind[k] == TURN, pose[0], pose[1], pose[2], np.float64(program.value[k]))
            gate.counts[k] = lines_of(walls, body, sweep, gate.lines[k])


@inner
def _action_free(kind, walls, body, sweep, heading, other):
    """Exact test of one action of one run: a turn, a leg, or a tool."""
    x, y = sweep.x, sweep.y
    if kind == MOVE:
        return leg_is_free(walls, body, x, y, sweep.c0, sweep.s0, sweep.amount)
    if not pose_free(walls, body, x, y, heading):
        return False
    if kind == TURN:
        return turn_free(walls, body, x, y, heading, sweep.amount)
    return pose_free(walls, other, x, y, heading)


@inner_fast
def _set_bounds(track, moving, k, reach, bound, runs):
    """How far (mm) any point of each run's body may be in action k from where the exact action has it."""
    x0, y0, x1, y1 = track.x[k], track.y[k], track.x[k + 1], track.y[k + 1]
    first, second = (track.chord[k], track.chord[k]) if moving else (track.e[k], track.e[k + 1])
    for i in range(runs):
        far = max(x0[i] * x0[i] + y0[i] * y0[i], x1[i] * x1[i] + y1[i] * y1[i])
        bound[i] = np.sqrt(far) + reach * max(abs(first[i]), abs(second[i])) + _GATE


class Track(NamedTuple):
    """Where the runs of a block have been: ``x``, ``y``, ``e`` (n + 1, B) before each action and at the end.

    ``chord`` (n, B) during each leg. As in :class:`motion.chance.kernels_walk.Block`.
    """

    x: NDArray[np.float32]
    y: NDArray[np.float32]
    e: NDArray[np.float32]
    chord: NDArray[np.float32]


@inner_maker
def _empty_track(actions):
    return Track(
        np.zeros((actions + 1, BLOCK), np.float32), np.zeros((actions + 1, BLOCK), np.float32),
        np.zeros((actions + 1, BLOCK), np.float32), np.zeros((actions, BLOCK), np.float32),
    )  # fmt: skip


@inner
def _note_row(track, block, row, runs):
    for i in range(runs):
        track.x[row, i], track.y[row, i], track.e[row, i] = block.x[i], block.y[i], block.e[i]
        if row > 0:
            track.chord[row - 1, i] = block.chord[i]


@inner
def _walk(block, track, program, h, z, at, runs):
    """Walk runs ``at`` and on of the noise matrix z through all actions, all of hypothesis h."""
    begin(block, program, h, z, at, runs)
    _note_row(track, block, 0, runs)
    for k in range(program.kind.size):
        act(block, program, h, z, k, at, runs)
        _note_row(track, block, k + 1, runs)


@inner_maker
def _order(room, detail):
    """In which order actions are tested: as they come when the first failure is wanted, else the tightest first."""
    order = np.zeros(room.size, np.int64)
    for k in range(room.size):
        slot = k
        while slot > 0 and not detail and room[order[slot - 1]] > room[k]:
            order[slot] = order[slot - 1]
            slot -= 1
        order[slot] = k
    return order


@inner
def _keep_met(missed, left, alive, outcome):
    """Keep those runs that meet their window; returns how many."""
    kept = 0
    for j in range(alive):
        i = left[j]
        if missed[i] == CLEAN:
            left[kept] = i
            kept += 1
        else:
            outcome[i] = missed[i]
    return kept


@inner
def _keep_home(track, nominal, homing, left, alive, outcome):
    """Keep those runs that end wholly inside the base; returns how many."""
    if nominal.home_room == math.inf:
        return alive
    last = nominal.poses.shape[0] - 1
    kept = 0
    for j in range(alive):
        i = left[j]
        x, y, e = track.x[last, i], track.y[last, i], track.e[last, i]
        home = math.sqrt(x * x + y * y) + homing.body.reach * abs(e) + GATE_MM < nominal.home_room
        if not home:
            end = nominal.poses[last]
            home = is_inside_base(homing, end[0] + x, end[1] + y, end[2] + e)
        if home:
            left[kept] = i
            kept += 1
        else:
            outcome[i] = NOT_HOME
    return kept


class Simulation(NamedTuple):
    """Everything about the runs of one course: ``z`` (rows, runs) the noise matrix, ``outcome`` (runs,) of each.

    ``scale`` (B,) and ``track`` of the runs of a block; ``left`` (B,): which of them are still in question.
    """

    z: NDArray[np.float32]
    program: Program
    nominal: Nominal
    around: Surroundings
    gate: Gate
    track: Track
    scale: NDArray[np.float32]
    left: NDArray[np.int64]
    outcome: NDArray[np.int16]


@inner
def _keep_free(sim, h, k, at, runs, alive):
    """Keep those of a block's runs (of hypothesis h) that touch nothing in action k: how many, and exact tests made."""
    program, gate, track, poses, left = sim.program, sim.gate, sim.track, sim.nominal.poses, sim.left
    kind, room, value, sd, row = (
        program.kind[k],
        sim.nominal.room[k],
        program.value[k],
        program.sd_one[h, k],
        COMMON + 2 * k,
    )
    reach = np.float32(max(sim.around.travel.reach, sim.around.working.reach) * 1.00001)
    _set_bounds(track, kind == MOVE, k, reach, gate.bound, runs)
    walls, body = _holding(sim.around, sim.nominal.stage[k], sim.nominal.lowered[k])
    kept = tests = 0
    for j in range(alive):
        i = left[j]
        free = gate.bound[i] < room
        if not free:
            x, y, heading = poses[k, 0] + track.x[k, i], poses[k, 1] + track.y[k, i], poses[k, 2] + track.e[k, i]
            amount = poses[k + 1, 2] + track.e[k + 1, i] - heading
            if kind == MOVE:
                heading = poses[k, 2] + track.chord[k, i]
                amount = value * (1.0 + sim.scale[i]) + sd * sim.z[row, at + i]
            sweep = sweep_of(kind == TURN, x, y, heading, amount)
            free = gate.counts[k] > 0 and before_lines(gate.lines[k], gate.counts[k], gate.bound[i], body, sweep)
            if not free:
                tests += 1
                free = _action_free(kind, walls, body, sweep, heading, sim.around.travel)
        if free:
            left[kept] = i
            kept += 1
        else:
            sim.outcome[at + i] = TOUCHED + k
    return kept, tests


@inner
def _outcomes_of(sim, block, order, h, at, runs, detail):
    """What becomes of one block of runs of hypothesis h; returns how many exact tests it took."""
    program, left, ends, homing = sim.program, sim.left, sim.outcome[at:], sim.around.homing
    _walk(block, sim.track, program, h, sim.z, at, runs)
    alive = runs
    for i in range(runs):
        left[i] = i
    if not detail:
        alive = _keep_met(block.missed, left, alive, ends)
        alive = _keep_home(sim.track, sim.nominal, homing, left, alive, ends)
    tests = 0
    for k in order:
        if program.kind[k] != WAIT:
            alive, more = _keep_free(sim, h, k, at, runs, alive)
            tests += more
        if detail and k == program.landing:
            alive = _keep_met(block.missed, left, alive, ends)
    if detail:
        alive = _keep_home(sim.track, sim.nominal, homing, left, alive, ends)
    for j in range(alive):
        ends[left[j]] = CLEAN
    return tests


@kernel
def run_outcomes(z, program, nominal, around, detail, stop, outcome):
    """What becomes of every run.

    Parameters
    ----------
    z
        Standard normal numbers, float32, shape (4 + 2 n or more, runs); the hypotheses share the runs evenly, in order.
    program, nominal, around
        As :class:`motion.chance.kernels_walk.Program`, :class:`Nominal` and :class:`Surroundings`.
    detail
        False: a run that misses its window is not tested for touching, and its outcome is any one that applies. True:
        the outcome is the first failure in time.
    stop
        (1,) int64: once it is not 0 no more runs are looked at, and what is returned is worth nothing.
    outcome
        (runs,) int16, filled: CLEAN, LATERAL, HEADING, SHORT, LONG, NOT_HOME, or TOUCHED + the action's index.

    Returns
    -------
    int
        How many exact tests were made.
    """
    actions = program.kind.size
    block, track, left = empty_block(BLOCK), _empty_track(actions), np.zeros(BLOCK, np.int64)
    gate = _gate(program, nominal, around)
    sim = Simulation(z, program, nominal, around, gate, track, block.scale, left, outcome)
    order = _order(nominal.room, detail)  # the tightest action ends most runs
    tests = 0
    for h in range(program.sd_common.shape[0]):
        first, after = share_of_runs(program, h, z.shape[1])
        for at in range(first, after, BLOCK):
            if stop[0] != 0:
                return tests
            tests += _outcomes_of(sim, block, order, h, at, min(BLOCK, after - at), detail)
    return tests


@kernel
def count_in_window(z, program):
    """How many runs end the course within the window; nothing is kept, no collisions.

    ``z`` and ``program`` as for :func:`run_outcomes`, the course ending with its last push.
    """
    block = empty_block(BLOCK)
    count = 0
    for h in range(program.sd_common.shape[0]):
        first, after = share_of_runs(program, h, z.shape[1])
        for at in range(first, after, BLOCK):
            runs = min(BLOCK, after - at)
            begin(block, program, h, z, at, runs)
            for k in range(program.kind.size):
                act(block, program, h, z, k, at, runs)
            for i in range(runs):
                count += 1 if block.missed[i] == CLEAN else 0
    return count
