"""A rendered picture of a club's own marks on a mission's table, small, of known truth."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from classroom.club.marks.numbers import BLOCKS, robot_number, table_number
from tests.oracles.plain_camera import PlainCamera, held
from tests.oracles.plain_marks import TrueSquare, corner_places, laid_by_hand
from tests.oracles.rendered_table import RenderedTable, Weather, jpeg, photographed

SIZE_PX = (1800, 1350)
TABLE_MM = (2400.0, 1200.0)


@dataclass(frozen=True)
class ClubPicture:
    """The file's bytes, the camera that took it, its greys."""

    data: bytes
    camera: PlainCamera
    greys: np.ndarray

    def pixel(self, x: float, y: float) -> tuple[float, float]:
        """Where a place of the table is in it."""
        u, v = self.camera.see(np.array([[x, y, 0.0]]))[0]
        return float(u), float(v)


def club_picture(club: Any, **what: Any) -> ClubPicture:
    """As :func:`rendered_club_picture`; the same one is rendered once."""
    key = repr((club.pk % BLOCKS, sorted(what.items(), key=lambda item: item[0]), _mark_of(what.get("robot"))))
    if key not in _rendered:
        _rendered[key] = rendered_club_picture(club, **what)
    return _rendered[key]


def _mark_of(robot: Any) -> Any:
    row = robot[0] if robot else None
    return row and (row.top_mark, row.top_mark_height_mm, row.top_mark_ahead_mm, row.top_mark_left_mm)


_rendered: dict[str, ClubPicture] = {}


def rendered_club_picture(
    club: Any,
    *,
    sheet_set: int = 1,
    things: Sequence[Sequence[Sequence[float]]] = (),
    robot: tuple[Any, tuple[float, float, float]] | None = None,
    seed: int = 7,
    missing: Sequence[int] = (),
    moved: tuple[int, float] | None = None,
    bent: tuple[int, float] | None = None,
    more: Sequence[TrueSquare] = (),
    side_mm: float = 150.0,
    weather: Weather | None = None,
    camera: PlainCamera | None = None,
    size_px: tuple[int, int] = SIZE_PX,
    table_mm: tuple[float, float] = TABLE_MM,
) -> ClubPicture:
    """The sheets of a set in the corners of a table, of 2.4 by 1.2 m unless it is said, laid by hand.

    ``things`` are outlines on the table, ``robot`` a row with a mark and its true pose, ``missing`` corners (0 to 3)
    without their sheet, ``moved`` a corner and how far its sheet is pushed to the right (mm), ``bent`` a corner and how far
    the upper left of its mark stands up (mm).
    """
    rng = np.random.default_rng(seed)
    weather = weather or Weather()
    while camera is None:
        tried = held(rng, table_mm, size_px, (50.0, 65.0), (0.44, 0.56))
        rim = np.array([[x, y, 0.0] for x in (0.0, table_mm[0]) for y in (0.0, table_mm[1])])
        seen = tried.see(rim)
        camera = tried if (seen > 8).all() and (seen < np.array(size_px) - 8).all() else None
    places = corner_places(*table_mm, 95.0)
    laid = laid_by_hand(rng, places, side_mm, sd_mm=1.0, sd_deg=0.5, scale_sd=0.001, paper_sd_mm=0.1)
    squares = [
        replace(
            square,
            number=table_number(club.pk, sheet_set, corner),
            x=square.x + (moved[1] if moved and moved[0] == corner else 0.0),
        )
        for corner, square in enumerate(laid)
        if corner not in missing
    ]
    if bent is not None:
        at = next(i for i, square in enumerate(squares) if square.number == table_number(club.pk, sheet_set, bent[0]))
        lifted = np.array(squares[at].lifted)
        lifted[0, 2] = bent[1]
        squares[at] = replace(squares[at], lifted=lifted)
    if robot is not None:
        squares.append(_on_top(club, *robot))
    outlines = [np.array(outline, dtype=float) for outline in things]
    light = RenderedTable(table_mm, [*squares, *more], outlines).light(camera, size_px)
    greys = photographed(light, weather, rng)
    return ClubPicture(jpeg(greys, weather.quality), camera, greys)


def _on_top(club: Any, robot: Any, pose: tuple[float, float, float]) -> TrueSquare:
    x, y, heading = pose
    way = complex(math.cos(math.radians(heading)), math.sin(math.radians(heading)))
    middle = complex(x, y) + way * complex(robot.top_mark_ahead_mm, robot.top_mark_left_mm)
    number = robot_number(club.pk, robot.top_mark)
    return TrueSquare(number, middle.real, middle.imag, math.radians(heading - 90.0), 80.0, robot.top_mark_height_mm)
