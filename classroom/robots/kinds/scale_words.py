"""A scale in words: how far a robot goes or turns of what it is told."""

from __future__ import annotations

from motion.units import figure


def off_in_percent(scale: float) -> str:
    off = (scale - 1) * 100
    size = figure(abs(off), 1)
    return "just what it is told" if size == "0.0" else f"{size} % too {'far' if off > 0 else 'little'}"
