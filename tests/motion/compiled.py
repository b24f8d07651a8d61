"""Compiled doors to functions that only kernels call: from Python those are plain Python, and tests want what runs."""

from __future__ import annotations

from numba import njit

from motion.chance import kernels_lines as lines
from motion.ground import kernels as ground
from motion.ground import kernels_base as base
from motion.search.kernels import trial

_door = njit(cache=True, error_model="numpy")

before_lines = _door(lines.before_lines)
leg_reach = _door(lines.leg_reach)
lines_of = _door(lines.lines_of)
sweep_of = _door(lines.sweep_of)
turn_reach = _door(lines.turn_reach)
contact_headings = _door(ground.contact_headings)
free_arcs = _door(ground.free_arcs)
pose_free = _door(ground.pose_free)
turn_free = _door(ground.turn_free)
base_entry = _door(base.base_entry)
price = _door(trial.price)
