"""Drawings as plain numbers for SVG templates: a robot's outline to scale, a series with its uncertainty over time."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import dataclass

from django.utils.formats import date_format

from classroom.robots.rules.footprints import Footprint
from classroom.site.figures import figure_said, length_said


@dataclass(frozen=True)
class OutlinePicture:
    """mm on paper, nose to the right, left of the robot up."""

    view_box: str
    travel: tuple[str, ...]
    working: tuple[str, ...]
    wheels: tuple[tuple[float, float, float, float], ...]
    axle_from: float
    axle_to: float
    arrow: str
    bar_path: str
    bar_words: str
    bar_text_x: float
    bar_text_y: float
    text_mm: float
    line_mm: float


def outline_picture(
    travel: Footprint, working: Footprint | None, *, wheel_mm: float, track_mm: float, unit: str
) -> OutlinePicture:
    corners = [corner for part in [*travel, *(working or [])] for corner in part]
    corners += [[-wheel_mm / 2, track_mm / 2 + 6], [wheel_mm / 2, -track_mm / 2 - 6]]
    left, right = min(x for x, _ in corners), max(x for x, _ in corners)
    low, high = min(y for _, y in corners), max(y for _, y in corners)
    size = max(right - left, high - low, 60.0)
    edge, text = size * 0.08, round(size * 0.06, 1)
    bar_mm, words = (50.8, "2 in") if unit == "in" else (50.0, length_said(50.0, unit))
    bottom, tick = -low + 1.5 * edge, edge * 0.3
    tip = right + 1.6 * edge
    return OutlinePicture(
        view_box=f"{left - edge:.1f} {-high - edge:.1f} {right - left + 3.2 * edge:.1f} {bottom + high + 2 * edge:.1f}",
        travel=tuple(_points(part) for part in travel),
        working=tuple(_points(part) for part in working or []),
        wheels=tuple((-wheel_mm / 2, side * track_mm / 2 - 6.0, wheel_mm, 12.0) for side in (-1, 1)),
        axle_from=-track_mm / 2,
        axle_to=track_mm / 2,
        arrow=f"M{right + 0.4 * edge:.1f} 0 L{tip:.1f} 0 M{tip - 0.5 * edge:.1f} {-0.4 * edge:.1f} L{tip:.1f} 0 "
        f"L{tip - 0.5 * edge:.1f} {0.4 * edge:.1f}",
        bar_path=f"M{left:.1f} {bottom - tick:.1f} V{bottom + tick:.1f} M{left:.1f} {bottom:.1f} "
        f"H{left + bar_mm:.1f} M{left + bar_mm:.1f} {bottom - tick:.1f} V{bottom + tick:.1f}",
        bar_words=words,
        bar_text_x=round(left + bar_mm + edge * 0.4, 1),
        bar_text_y=round(bottom + text * 0.35, 1),
        text_mm=text,
        line_mm=round(size * 0.007, 2),
    )


def _points(part: Sequence[Sequence[float]]) -> str:
    return " ".join(f"{x:.1f},{-y:.1f}" for x, y in part)


@dataclass(frozen=True)
class SeriesPoint:
    """A point of a series and the ends of its whisker."""

    x: float
    y: float
    low: float
    high: float
    words: str


@dataclass(frozen=True)
class SeriesPicture:
    """A series over time in a box of ``width`` x ``height``, with horizontal ticks and a first and a last date."""

    width: int
    height: int
    marks: tuple[SeriesPoint, ...]
    line: str
    ticks: tuple[tuple[float, str], ...]
    first: str
    last: str
    left: float
    right: float
    bottom: float


def series_picture(
    points: Sequence[tuple[dt.date, float, float, float]],
    *,
    suffix: str = "",
    decimals: int = 1,
    from_zero: bool = False,
    most: float = math.inf,
    width: int = 360,
    height: int = 170,
    words: Sequence[str] = (),
) -> SeriesPicture | None:
    """``points`` are (day, value, low, high) with the ends of what to show around it, oldest first; None without.

    No value goes over ``most``, and no tick is drawn there.
    """
    if not points:
        return None
    low = 0.0 if from_zero else min(point[2] for point in points)
    high = max(point[3] for point in points)
    span_shown = high - low
    if span_shown < 1e-6 * max(1.0, abs(high)):  # all alike: a little room around them, not rounding noise
        span_shown = abs(high) * 0.02 if abs(high) > 1e-6 else 1.0
    step = _nice_step(span_shown)
    first_tick, last_tick = math.floor(low / step - 1e-9), math.ceil(high / step + 1e-9)
    if from_zero:
        first_tick = 0
    last_tick = max(last_tick, first_tick + 1)
    low, high = first_tick * step, min(last_tick * step, most)
    left, right, top, bottom = 52.0, width - 14.0, 12.0, height - 26.0
    days = [day.toordinal() for day, *_ in points]
    span = (days[-1] - days[0]) or 1

    def x_of(i: int) -> float:
        if len(points) == 1 or days[-1] == days[0]:
            return (left + right) / 2 if len(points) == 1 else left + 12 + (right - left - 24) * i / (len(points) - 1)
        return left + 12 + (right - left - 24) * (days[i] - days[0]) / span

    def y_of(value: float) -> float:
        return bottom - (bottom - top) * (value - low) / (high - low)

    marks = tuple(
        SeriesPoint(
            round(x_of(i), 1),
            round(y_of(value), 1),
            round(y_of(max(from_, low)), 1),
            round(y_of(to), 1),
            words[i]
            if i < len(words)
            else f"{date_format(day, 'SHORT_DAY_FORMAT')}: {figure_said(value, decimals)}{suffix}",
        )
        for i, (day, value, from_, to) in enumerate(points)
    )
    tick_decimals = max(0, -math.floor(math.log10(step) + 1e-9))
    ticks = tuple(
        (round(y_of(n * step), 1), f"{figure_said(n * step, tick_decimals)}{suffix}")
        for n in range(first_tick, last_tick + 1)
        if n * step <= most
    )
    line = " ".join(f"{mark.x},{mark.y}" for mark in marks) if len(marks) > 1 else ""
    return SeriesPicture(
        width,
        height,
        marks,
        line,
        ticks,
        date_format(points[0][0], "SHORT_DAY_FORMAT"),
        date_format(points[-1][0], "SHORT_DAY_FORMAT") if len(points) > 1 else "",
        left,
        right,
        bottom,
    )


def _nice_step(span: float) -> float:
    """A step of 1, 2 or 5 times a power of ten that cuts ``span`` into three or so."""
    rough = span / 3
    power = 10.0 ** math.floor(math.log10(rough))
    return next(power * m for m in (1.0, 2.0, 5.0, 10.0) if power * m >= rough - 1e-12)
