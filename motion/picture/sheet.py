"""The sheet a map is drawn on: its coordinates, rulers, scale bar, dial and patterns."""

from __future__ import annotations

import math
from dataclasses import dataclass
from html import escape

from motion.course.sentences import _, digits_of, numeral
from motion.scene.records import Point, Polygon, Pose
from motion.units import format_length

#: Colours of a drawing that stands alone, in light and in dark.
STYLE = (
    ".chart{font-family:system-ui,'Noto Sans','DejaVu Sans',sans-serif;background:#fff}"
    ".chart-grid{stroke:#e7e2d6;stroke-width:2}.chart-grid-strong{stroke:#d9d4c7;stroke-width:3}"
    ".chart-missing{fill:#fff}.chart-edge{fill:none;stroke:#1c2430;stroke-width:9}"
    ".chart-base{fill:url(#chart-dots);stroke:#0d5c63;stroke-width:6;stroke-dasharray:26 16}.chart-dot{fill:#0d5c63;opacity:.5}"
    ".chart-obstacle{fill:url(#chart-hatch);stroke:#8a4b00;stroke-width:6}.chart-hatch{stroke:#8a4b00;stroke-width:8}"
    ".chart-keepout{fill:url(#chart-cross);stroke:#a1301f;stroke-width:5;stroke-dasharray:8 10}.chart-cross{stroke:#a1301f;stroke-width:4}"
    ".chart-target{fill:#6b2f6b;opacity:.85}.chart-target-after{fill:none;stroke:#6b2f6b;stroke-width:4;stroke-dasharray:12 9}"
    ".chart-push{fill:#6b2f6b}.chart-sweep{fill:#0d5c63;opacity:.09}.chart-robot{fill:#0d5c63;opacity:.3}"
    ".chart-line{fill:none;stroke:#0d5c63;stroke-width:12;stroke-linecap:round}.chart-line-home{stroke-dasharray:2 26}"
    ".chart-heading{stroke:#1c2430;stroke-width:9;stroke-linecap:round}.chart-home{fill:none;stroke:#0d5c63;stroke-width:6}"
    ".chart-badge{fill:#1c2430}.chart-badge-text{fill:#fff;text-anchor:middle;font-weight:600}"
    ".chart-landing{fill:none;stroke:#1c2430;stroke-width:6;stroke-dasharray:14 10}"
    ".chart-met{fill:#fff;stroke:#1c2430;stroke-width:7}"
    ".chart-touch-ring{fill:none;stroke:#a1301f;stroke-width:8}.chart-touch-bar,.chart-tightest{stroke:#a1301f;stroke-width:10}"
    ".chart-label{fill:#1c2430;text-anchor:middle;paint-order:stroke;stroke:#fff;stroke-width:10;stroke-linejoin:round}"
    ".chart-label-base{fill:#0d5c63}.chart-label-target{fill:#6b2f6b}.chart-label-tight{fill:#a1301f}"
    ".chart-ruler{fill:#565f6c}.chart-bar,.chart-dial{fill:none;stroke:#565f6c;stroke-width:4}"
    ".chart-mend{fill:none;stroke:#1d6b3f;stroke-width:8;stroke-dasharray:22 12}.chart-mend-way{stroke:#1d6b3f;stroke-width:10}"
    ".chart-mend-head,.chart-label-mend{fill:#1d6b3f}.chart-label-mend{font-weight:600}"
    ".chart-dial-hand{stroke:#1c2430;stroke-width:8;stroke-linecap:round}"
)


@dataclass(frozen=True)
class ChartSheet:
    """A table of ``width`` x ``depth`` mm, +y up; margins below and to the left hold rulers, bar and dial."""

    width: float
    depth: float
    unit: str = "cm"

    @property
    def font(self) -> float:
        """Letters in mm of the table, so that they read alike on any size of table."""
        return max(self.width, self.depth * 1.6) / 54

    @property
    def view_box(self) -> str:
        side, below = 2.4 * self.font, 5.2 * self.font
        return f"{-side:.0f} {-0.8 * self.font:.0f} {self.width + side + 0.8 * self.font:.0f} {self.depth + below:.0f}"

    @property
    def grid_mm(self) -> float:
        """A line every 10 cm or 4 inches, every fifth of them strong."""
        return 101.6 if self.unit == "in" else 100.0

    def at(self, point: Point) -> Point:
        return point[0], self.depth - point[1]

    def measure(self, value_mm: float) -> str:
        return format_length(value_mm, self.unit)

    def polygon(self, outline: Polygon, kind: str) -> str:
        points = " ".join(f"{x:.1f},{y:.1f}" for x, y in map(self.at, outline))
        return f'<polygon class="{kind}" points="{points}"/>'

    def line(self, a: Point, b: Point, kind: str) -> str:
        (x1, y1), (x2, y2) = self.at(a), self.at(b)
        return f'<line class="{kind}" x1="{x1:.1f}" y1="{y1:.1f}" x2="{x2:.1f}" y2="{y2:.1f}"/>'

    def circle(self, centre: Point, radius: float, kind: str) -> str:
        x, y = self.at(centre)
        return f'<circle class="{kind}" cx="{x:.1f}" cy="{y:.1f}" r="{radius:.1f}"/>'

    def text(self, spot: Point, words: str, kind: str, anchor: str = "middle", size: float = 1.0) -> str:
        x, y = self.at(spot)
        return (
            f'<text class="{kind}" x="{x:.1f}" y="{y:.1f}" font-size="{self.font * size:.1f}" '
            f'text-anchor="{anchor}">{escape(words)}</text>'
        )

    def badge(self, centre: Point, word: str) -> str:
        below = centre[0], centre[1] - 0.32 * self.font
        return self.circle(centre, 0.72 * self.font, "chart-badge") + self.text(
            below, word, "chart-badge-text", size=0.9 if len(word) < 2 else 0.75
        )


def grid(sheet: ChartSheet) -> list[str]:
    """Grid lines and the rulers' numbers along the near and the left edge."""
    drawn = []
    for along, extent, across in ((True, sheet.width, sheet.depth), (False, sheet.depth, sheet.width)):
        for k in range(int(extent / sheet.grid_mm + 1e-9) + 1):
            value, strong = k * sheet.grid_mm, k % 5 == 0
            a, b = ((value, 0.0), (value, across)) if along else ((0.0, value), (across, value))
            drawn.append(sheet.line(a, b, "chart-grid-strong" if strong else "chart-grid"))
            if strong:
                spot = (value, -1.2 * sheet.font) if along else (-0.4 * sheet.font, value - 0.3 * sheet.font)
                number = digits_of(sheet.measure(value).split()[0])
                drawn.append(sheet.text(spot, number, "chart-ruler", "middle" if along else "end", 0.8))
    return drawn


def scale_bar(sheet: ChartSheet) -> str:
    length, y = 5 * sheet.grid_mm, -2.9 * sheet.font
    tick = 0.35 * sheet.font
    lines = [((0.0, y), (length, y)), ((0.0, y - tick), (0.0, y + tick)), ((length, y - tick), (length, y + tick))]
    drawn = "".join(sheet.line(a, b, "chart-bar") for a, b in lines)
    words = str(_("{size}; edges in {unit}", size=numeral(sheet.measure(length)), unit=sheet.unit))
    return drawn + sheet.text((length + 0.6 * sheet.font, y - 0.3 * sheet.font), words, "chart-ruler", "start", 0.8)


def dial(sheet: ChartSheet, start: Pose | None) -> str:
    """Which way the robot's own zero points: its heading at the start."""
    if start is None:
        return ""
    centre, radius = (sheet.width - 1.4 * sheet.font, -2.75 * sheet.font), 1.15 * sheet.font
    h = math.radians(start.heading_deg)
    tip = centre[0] + 0.9 * radius * math.cos(h), centre[1] + 0.9 * radius * math.sin(h)
    hand = sheet.line(centre, tip, "chart-dial-hand")
    words = sheet.text(
        (centre[0] - 1.6 * radius, centre[1] - 0.3 * sheet.font), str(_("yaw 0°")), "chart-ruler", "end", 0.8
    )
    return sheet.circle(centre, radius, "chart-dial") + hand + words


def patterns(sheet: ChartSheet) -> str:
    """Dots for the base, hatching for obstacles, crosses for keep-outs: told apart without colour."""
    step = 0.9 * sheet.font
    return (
        "<defs>"
        f'<pattern id="chart-dots" width="{step:.0f}" height="{step:.0f}" patternUnits="userSpaceOnUse">'
        f'<circle class="chart-dot" cx="{step / 4:.0f}" cy="{step / 4:.0f}" r="6"/></pattern>'
        f'<pattern id="chart-hatch" width="{step:.0f}" height="{step:.0f}" patternUnits="userSpaceOnUse" '
        f'patternTransform="rotate(45)"><line class="chart-hatch" x1="0" y1="0" x2="0" y2="{step:.0f}"/></pattern>'
        f'<pattern id="chart-cross" width="{step:.0f}" height="{step:.0f}" patternUnits="userSpaceOnUse" '
        f'patternTransform="rotate(45)"><path class="chart-cross" d="M0 0H{step:.0f}M0 0V{step:.0f}"/></pattern>'
        "</defs>"
    )
