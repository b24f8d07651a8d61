"""Places and poses measured in rendered pictures, from the picture's bytes on, against what was really there.

Geometry: a table of 2.4 by 1.2 m, four marks of 150 mm in its corners laid by hand, a camera 1.3 to 1.7 m above the table,
held over it (20 to 45 degrees from straight down, a lens wide enough to see all of the table from there), unknown focal
length, middle and distortion, eight million pixels, blur, noise, uneven light and JPEG loss. Places are tapped to 1.5
pixels, as under a magnifier; poses are those of a mark of 80 mm on a robot's top, found by the program. All is drawn as
tests/oracles draw it, sharing no code with the fit. ``from_afar`` is the same from a step or two back, without a bar: it
looks down by 20 to 45 degrees, with the lens of an ordinary phone, 2 to 4 m from the table's middle.

HELMROOM_PICTURES says how many pictures are rendered for each of the two.
"""

from __future__ import annotations

import functools
import math
import os
from collections import Counter
from dataclasses import dataclass, field

import numpy as np

from benchmarks.figures import Figure, percentile
from classroom.club.marks.decode import greys_of
from classroom.club.marks.find import find_marks
from classroom.errors import InputError
from motion.errors import FitError
from motion.picture.camera.laid import LAID_SD_DEG, LAID_SD_MM, PAPER_SD_MM, SCALE_SD, LaidMark
from motion.picture.camera.measured import measure_table
from motion.picture.camera.robot_pose import FIXED_SD_DEG, FIXED_SD_MM, HEIGHT_SD_MM, RobotMark, see_robot
from motion.picture.camera.table_fit import TAP_SD_PX
from tests.oracles.plain_camera import PlainCamera, held
from tests.oracles.plain_marks import TrueSquare, corner_places, laid_by_hand
from tests.oracles.rendered_table import RenderedTable, Weather, jpeg, photographed

Way = tuple[tuple[float, float], tuple[float, float]]

PICTURES = int(os.environ.get("HELMROOM_PICTURES", "150"))
TABLE_MM, SIDE_MM, SIZE_PX = (2400.0, 1200.0), 150.0, (3264, 2448)
#: How steeply the camera looks down, and its focal length as a share of the picture's longer side.
OVER_IT: Way = ((45.0, 70.0), (0.44, 0.56))
FROM_AFAR: Way = ((20.0, 45.0), (0.62, 0.85))
PLACES = corner_places(*TABLE_MM, 95.0)
LAID = [LaidMark(i + 1, x, y, SIDE_MM) for i, (x, y) in enumerate(PLACES)]
ROBOT = RobotMark(40, 80.0, 110.0, ahead_mm=30.0)
TAPS = 12


@dataclass
class Measured:
    """Errors of all places (mm) and poses (mm, degrees), whether each coordinate was held, and why pictures were refused."""

    places: list[float] = field(default_factory=list)
    poses: list[tuple[float, float]] = field(default_factory=list)
    places_held: list[float] = field(default_factory=list)
    poses_held: list[float] = field(default_factory=list)
    refused: Counter[str] = field(default_factory=Counter)

    @property
    def note(self) -> str:
        refused = ", ".join(f"{reason} {count}" for reason, count in self.refused.items()) or "none"
        return f"{len(self.places) // TAPS} pictures of {PICTURES} measured (refused: {refused})"


def robot_square(rng: np.random.Generator, pose: tuple[float, float, float]) -> TrueSquare:
    """The robot's mark as hands fix it, measure it and print it, on paper that is no flatter than that of the table's."""
    x, y, heading = pose
    ahead, left, lift = rng.normal(0.0, (FIXED_SD_MM, FIXED_SD_MM, HEIGHT_SD_MM))
    way = complex(math.cos(math.radians(heading)), math.sin(math.radians(heading)))
    middle = complex(x, y) + way * complex(ROBOT.ahead_mm + ahead, left)
    return TrueSquare(
        ROBOT.number,
        middle.real,
        middle.imag,
        math.radians(heading - 90.0 + rng.normal(0.0, FIXED_SD_DEG)),
        ROBOT.side_mm * (1.0 + rng.normal(0.0, SCALE_SD)),
        ROBOT.height_mm + lift,
        lifted=np.column_stack([rng.normal(0.0, PAPER_SD_MM, (4, 2)), np.zeros(4)]),
    )


def taken(
    rng: np.random.Generator, size_px: tuple[int, int], way: Way = OVER_IT
) -> tuple[PlainCamera, tuple[float, float, float], bytes]:
    """A camera, the robot's true pose, and the picture's bytes."""
    while True:
        camera = held(rng, TABLE_MM, size_px, *way)
        squares = laid_by_hand(
            rng, PLACES, SIDE_MM, sd_mm=LAID_SD_MM, sd_deg=LAID_SD_DEG, scale_sd=SCALE_SD, paper_sd_mm=PAPER_SD_MM
        )
        seen = np.concatenate([square.seen(camera) for square in squares])
        if (seen > 20).all() and (seen < np.array(size_px) - 20).all():
            break
    x, y, heading = rng.uniform((300.0, 200.0, -180.0), (2100.0, 1000.0, 180.0))
    pose = (float(x), float(y), float(heading))
    things = [np.array([[700.0, 300.0], [900.0, 300.0], [900.0, 420.0], [700.0, 420.0]])]
    light = RenderedTable(TABLE_MM, [*squares, robot_square(rng, pose)], things).light(camera, size_px)
    weather = Weather(rng.uniform(0.5, 1.3), rng.uniform(0.003, 0.02), rng.uniform(0.0, 0.8), int(rng.integers(70, 93)))
    return camera, pose, jpeg(photographed(light, weather, rng), weather.quality)


@functools.lru_cache(maxsize=2)
def measured(way: Way = OVER_IT) -> Measured:
    """All pictures of a way to hold the camera, rendered and measured once."""
    rng = np.random.default_rng(1506)
    found = Measured()
    for _ in range(PICTURES):
        camera, pose, data = taken(rng, SIZE_PX, way)
        points = np.column_stack([rng.uniform((100.0, 100.0), (2300.0, 1100.0), (TAPS, 2)), np.zeros(TAPS)])
        taps = camera.see(points) + rng.normal(0.0, TAP_SD_PX, (TAPS, 2))
        try:
            seen = find_marks(greys_of(data))
            table = measure_table(LAID, seen, SIZE_PX, *TABLE_MM)
        except (InputError, FitError) as error:
            found.refused[str(error.code)] += 1
            continue
        places = table.places(taps)
        off = places.places_mm - points[:, :2]
        found.places += np.hypot(*off.T).tolist()
        found.places_held += (np.abs(off) <= 1.959964 * places.sd_mm).ravel().tolist()
        mark = next((each for each in seen if each.number == ROBOT.number), None)
        if mark is None:
            found.refused["robot_not_found"] += 1
            continue
        try:
            robot = see_robot(table, ROBOT, mark)
        except FitError as error:
            found.refused[f"robot_{error.code}"] += 1
            continue
        x, y, heading = pose
        error = (robot.pose.x_mm - x, robot.pose.y_mm - y, math.remainder(robot.pose.heading_deg - heading, 360.0))
        found.poses.append((math.hypot(*error[:2]), abs(error[2])))
        found.poses_held += (np.abs(error) <= np.array(robot.half_ranges())).tolist()
    return found


def places_median() -> Figure:
    """How far a tapped place is from where it is, in the median."""
    found = measured()
    return Figure(percentile(found.places, 0.5), "mm", 3.0, found.note)


def places_p95() -> Figure:
    """The same, of nineteen in twenty."""
    found = measured()
    return Figure(percentile(found.places, 0.95), "mm", 8.0, found.note)


def _held(values: list[float], what: str) -> Figure:
    """How far the share that was held is from 95 %: within two points."""
    share = float(np.mean(values))
    note = f"{100 * share:.1f} % of {len(values)} {what} inside the said 95 % range; {measured().note}"
    return Figure(abs(share - 0.95), "off 0.95", 0.02, note)


def places_held() -> Figure:
    """Of coordinates of tapped places, how many are inside the range said to hold 95 %."""
    return _held(measured().places_held, "coordinates of places")


def poses_held() -> Figure:
    """Of coordinates and headings of robots, how many are inside the range said to hold 95 %."""
    return _held(measured().poses_held, "coordinates and headings of robots")


def poses_place() -> Figure:
    """How far the robot's axle is from where it is, in the median."""
    places = [place for place, _ in measured().poses]
    note = f"p95 {percentile(places, 0.95):.1f} mm; {measured().note}"
    return Figure(percentile(places, 0.5), "mm", 3.0, note)


def poses_heading() -> Figure:
    """How far the robot's heading is from what it is, of nineteen in twenty."""
    headings = [heading for _, heading in measured().poses]
    note = f"median {percentile(headings, 0.5):.2f} degrees; {measured().note}"
    return Figure(percentile(headings, 0.95), "degrees", 1.0, note)


def from_afar() -> Figure:
    """Places measured from 2 to 4 m away: pixels are coarser and foreshortened there, and it says so."""
    found = measured(FROM_AFAR)
    poses = [place for place, _ in found.poses]
    note = (
        f"p95 {percentile(found.places, 0.95):.1f} mm, {100 * np.mean(found.places_held):.1f} % held; the robot's axle "
        f"{percentile(poses, 0.5):.1f} and {percentile(poses, 0.95):.1f} mm, {100 * np.mean(found.poses_held):.1f} % held; "
        f"{found.note}"
    )
    return Figure(percentile(found.places, 0.5), "mm", None, note)


FIGURES = {
    "picture.places_median": places_median,
    "picture.places_p95": places_p95,
    "picture.places_held": places_held,
    "picture.poses_place": poses_place,
    "picture.poses_heading": poses_heading,
    "picture.poses_held": poses_held,
    "picture.places_from_afar": from_afar,
}
