"""Joint rounding of a way's numbers to what the team can set, compiled: all legs but two are tried, two are solved."""

from __future__ import annotations

import math

import numpy as np
from numba import njit

from motion.ground.kernels_base import inside_base
from motion.search.kernels.refine import clear_cost
from motion.search.kernels.task import wrapped


@njit(cache=True)
def _insert(scores, counts, steps, score, count, step):
    k = scores.size - 1
    if score >= scores[k]:
        return
    while k > 0 and scores[k - 1] > score:
        scores[k] = scores[k - 1]
        counts[k] = counts[k - 1]
        steps[k] = steps[k - 1]
        k -= 1
    scores[k] = score
    counts[k] = count
    steps[k] = step


@njit(cache=True)
def _time(task, headings, distances):
    """Cost of legs at given headings and signed distances, turns the short way."""
    cost, at = 0.0, task.h
    for i in range(headings.size):
        d = abs(distances[i])
        by = wrapped(headings[i] - at)
        move = d / task.speed + task.speed / task.acceleration
        if d < task.speed * task.speed / task.acceleration:
            move = 2 * math.sqrt(d / task.acceleration)
        cost += move + task.settle
        a = abs(by)
        if a > 1e-9:
            cost += task.settle
            if a >= task.turn_rate * task.turn_rate / task.turn_acceleration:
                cost += a / task.turn_rate + task.turn_rate / task.turn_acceleration
            else:
                cost += 2 * math.sqrt(a / task.turn_acceleration)
        at = headings[i]
    return cost


@njit(cache=True, nogil=True)
def round_to_goal(
    task, headings, distances, h0, turn_step, distance_step, first_fixed, last_fixed, rigid, spread, goal_lateral,
    goal_heading_step, push_leg, gap, side_price, most,
):  # fmt: skip
    """Whole-number ways that end near the goal, best first; clearance not looked at.

    Parameters
    ----------
    headings, distances
        (K,) exact headings (rad) and signed distances (mm) of the legs.
    h0, turn_step, distance_step
        Headings may be ``h0 + n turn_step`` (rad), distances multiples of ``distance_step`` (mm).
    first_fixed, last_fixed
        Whether the first leg keeps the start heading (no turn), the last keeps the goal's.
    rigid
        How many of the first legs just take the nearest step (a way of many legs would have too many choices).
    spread
        How many steps either side of the exact number are tried.
    goal_lateral
        How far to the side of the goal's line (mm) is still acceptable, at contact and at the end of the push.
    goal_heading_step
        Step count of the heading that is held while pushing.
    push_leg, gap
        Nominal push leg and its gap before contact (mm).
    side_price
        Seconds for meeting the target at ``goal_lateral`` to the side, growing with the square.

    Returns
    -------
    count, scores, turn_steps, distance_steps
        Found (M,), heading step counts (M, K) and signed distance step counts (M, K), and the along-error is left to
        the push.
    """
    legs = headings.size
    scores = np.full(most, math.inf)
    turn_steps = np.zeros((most, legs), dtype=np.int64)
    distance_steps = np.zeros((most, legs), dtype=np.int64)
    around_h = np.zeros(legs, dtype=np.int64)
    around_d = np.zeros(legs, dtype=np.int64)
    for i in range(legs):
        around_h[i] = int(np.round((headings[i] - h0) / turn_step))
        around_d[i] = int(np.round(distances[i] / distance_step))
    push_heading = h0 + goal_heading_step * turn_step
    lean = math.sin(wrapped(push_heading - task.gh))
    tried = legs - 2 if legs > 1 else 0  # legs whose distance is tried; the last two (or one) are solved
    digits = legs + tried
    size = 2 * spread + 1
    digit = np.zeros(digits, dtype=np.int64)
    n_h = np.zeros(legs, dtype=np.int64)
    n_d = np.zeros(legs, dtype=np.int64)
    trial_h = np.zeros(legs)
    trial_d = np.zeros(legs)
    gc, gs = math.cos(task.gh), math.sin(task.gh)
    total = 1
    held = np.zeros(digits, dtype=np.bool_)
    for k in range(digits):
        leg = k if k < legs else k - legs
        held[k] = leg < rigid or (k == 0 and first_fixed) or (k == legs - 1 and last_fixed)
        total *= 1 if held[k] else size
    for number in range(total):
        rest = number
        for k in range(digits):
            if held[k]:
                digit[k] = 0
            else:
                digit[k] = rest % size - spread
                rest //= size
        for i in range(legs):
            n_h[i] = around_h[i] + digit[i]
            if i == 0 and first_fixed:
                n_h[i] = int(np.round((task.h - h0) / turn_step))
            if i == legs - 1 and last_fixed:
                n_h[i] = goal_heading_step
            trial_h[i] = h0 + n_h[i] * turn_step
        x, y = task.x, task.y
        usable = True
        for i in range(tried):
            n_d[i] = around_d[i] + digit[legs + i]
            trial_d[i] = n_d[i] * distance_step
            if trial_d[i] * distances[i] <= 0 or abs(trial_d[i]) < task.least_leg - 1e-9:
                usable = False
                break
            x += trial_d[i] * math.cos(trial_h[i])
            y += trial_d[i] * math.sin(trial_h[i])
        if not usable:
            continue
        dx, dy = task.gx - x, task.gy - y
        if legs == 1:
            first = np.floor((dx * math.cos(trial_h[0]) + dy * math.sin(trial_h[0])) / distance_step)
            second = 0.0
        else:
            ax, ay = math.cos(trial_h[legs - 2]), math.sin(trial_h[legs - 2])
            bx, by = math.cos(trial_h[legs - 1]), math.sin(trial_h[legs - 1])
            det = ax * by - ay * bx
            if abs(det) < 1e-3:
                continue
            first = np.floor((dx * by - dy * bx) / det / distance_step)
            second = np.floor((ax * dy - ay * dx) / det / distance_step)
        for corner in range(2 if legs == 1 else 4):
            if legs == 1:
                n_d[0] = int(first) + corner
            else:
                n_d[legs - 2] = int(first) + corner % 2
                n_d[legs - 1] = int(second) + corner // 2
            usable = True
            for i in range(tried, legs):
                trial_d[i] = n_d[i] * distance_step
                if trial_d[i] * distances[i] <= 0 or abs(trial_d[i]) < task.least_leg - 1e-9:
                    usable = False
            if not usable:
                continue
            ex, ey = x - task.gx, y - task.gy
            for i in range(tried, legs):
                ex += trial_d[i] * math.cos(trial_h[i])
                ey += trial_d[i] * math.sin(trial_h[i])
            lateral = ey * gc - ex * gs
            along = ex * gc + ey * gs
            meets, ends = abs(lateral + gap * lean), abs(lateral + push_leg * lean)
            if max(meets, ends) > goal_lateral or abs(along) > max(distance_step, 0.9 * gap):
                continue
            side = max(meets, ends) / goal_lateral
            score = _time(task, trial_h, trial_d) + side_price * side * side
            _insert(scores, turn_steps, distance_steps, score, n_h, n_d)
    count = 0
    while count < most and scores[count] < math.inf:
        count += 1
    return count, scores, turn_steps, distance_steps


@njit(cache=True, nogil=True)
def round_into_base(
    task, headings, distances, h0, turn_step, distance_step, first_fixed, rigid, spread, most
):  # fmt: skip
    """Whole-number ways that end in the base, best first; clearance and the base itself not looked at.

    As :func:`round_to_goal`, but every leg's distance is tried about its exact number, the last one upwards only.
    """
    legs = headings.size
    scores = np.full(most, math.inf)
    turn_steps = np.zeros((most, legs), dtype=np.int64)
    distance_steps = np.zeros((most, legs), dtype=np.int64)
    size = 2 * spread + 1
    n_h = np.zeros(legs, dtype=np.int64)
    n_d = np.zeros(legs, dtype=np.int64)
    trial_h = np.zeros(legs)
    trial_d = np.zeros(legs)
    total = 1
    for k in range(2 * legs):
        leg = k if k < legs else k - legs
        total *= 1 if leg < rigid or (k == 0 and first_fixed) else size
    for number in range(total):
        rest = number
        usable = True
        for i in range(legs):
            if i == 0 and first_fixed:
                n_h[i] = int(np.round((task.h - h0) / turn_step))
            elif i < rigid:
                n_h[i] = int(np.round((headings[i] - h0) / turn_step))
            else:
                n_h[i] = int(np.round((headings[i] - h0) / turn_step)) + rest % size - spread
                rest //= size
            trial_h[i] = h0 + n_h[i] * turn_step
        for i in range(legs):
            step = 0
            if i >= rigid:
                step = rest % size - spread
                rest //= size
            if i == legs - 1:
                step += spread
                near = math.floor(abs(distances[i]) / distance_step)
            else:
                near = math.floor(abs(distances[i]) / distance_step + 0.5)
            sign = 1 if distances[i] > 0 else -1
            n_d[i] = sign * (int(near) + step)
            trial_d[i] = n_d[i] * distance_step
            least = task.least_back if i == 0 and task.backing else task.least_leg
            if sign * trial_d[i] < least - 1e-9:
                usable = False
        if usable:
            _insert(scores, turn_steps, distance_steps, _time(task, trial_h, trial_d), n_h, n_d)
    count = 0
    while count < most and scores[count] < math.inf:
        count += 1
    return count, scores, turn_steps, distance_steps


@njit(cache=True, nogil=True)
def rounded_cost(task, headings, distances, final_heading, points, turns):
    """Cost of legs with exact given numbers when everything is clear, inf otherwise; fills points and turns.

    The goal's heading is replaced by ``final_heading`` (rad); a way into the base must end inside it.
    """
    legs = headings.size
    x, y = task.x, task.y
    for i in range(legs):
        x += distances[i] * math.cos(headings[i])
        y += distances[i] * math.sin(headings[i])
        points[i, 0], points[i, 1] = x, y
    if task.into_base and not inside_base(task.base, task.base_convex, task.base_body, x, y, headings[legs - 1]):
        return math.inf
    cost = _time(task, headings, distances)
    return clear_cost(task, legs, points, headings, distances, cost, math.inf, turns, final_heading)
