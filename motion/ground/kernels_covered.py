"""Sides of convex pieces that lie inside another piece of the same outline, compiled.

Pieces that were grown overlap. Who comes from outside touches what covers such a side before the side itself.
"""

from __future__ import annotations

from motion.compiled import inner, kernel


@inner
def _deep_inside(wall_sides, piece, x, y, deep):
    """Whether a point lies deeper than so much (mm) inside a piece."""
    if x - piece.x_lo <= deep or piece.x_hi - x <= deep or y - piece.y_lo <= deep or piece.y_hi - y <= deep:
        return False
    for k in range(piece.first, piece.last):
        side = wall_sides[k]
        if side.support - (side.nx * x + side.ny * y) <= deep:
            return False
    return True


@kernel
def mark_covered(walls, deep):
    """Mark as ``inner`` every side whose two ends lie deeper than ``deep`` (mm) inside one other piece of its outline."""
    for outline in walls.outlines:
        for w in range(outline.first, outline.last):
            for j in range(walls.pieces[w].first, walls.pieces[w].last):
                side = walls.sides[j]
                for v in range(outline.first, outline.last):
                    if (
                        v != w
                        and _deep_inside(walls.sides, walls.pieces[v], side.ax, side.ay, deep)
                        and _deep_inside(walls.sides, walls.pieces[v], side.bx, side.by, deep)
                    ):
                        side.inner = 1
                        break
