"""Where a robot stands, by the mark on its top."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
from scipy import optimize, special

from motion.chance.least_squares import NINETEEN_IN_TWENTY, Array
from motion.course.sentences import _
from motion.errors import FitError, MotionCode
from motion.picture.camera.equations import CAMERA_UNKNOWNS
from motion.picture.camera.laid import SCALE_SD, SeenMark, paper_share, square_corners, weight_px
from motion.picture.camera.measured import FALSE_ALARM, LEAST_CLEAR
from motion.picture.camera.table_fit import TablePicture
from motion.scene.records import Pose

#: How well a ruler tells where a mark is on its robot: along each axis and in height, and how askew. Common practice.
FIXED_SD_MM, HEIGHT_SD_MM, FIXED_SD_DEG = 0.5, 1.0, 0.3


@dataclass(frozen=True)
class RobotMark:
    """A square mark fixed flat on a robot's top, its upper edge towards the robot's front.

    Its middle is ``ahead_mm`` of the middle of the axle and ``left_mm`` to the left of it, ``height_mm`` above the table.
    """

    number: int
    side_mm: float
    height_mm: float
    ahead_mm: float = 0.0
    left_mm: float = 0.0
    height_sd_mm: float = HEIGHT_SD_MM


@dataclass(frozen=True)
class SeenRobot:
    """A robot's pose on the table with the covariance of (x, y, heading), in mm and degrees, (3, 3).

    ``shared``, (3, n), is how the pose follows what every picture of this table and this robot has alike, a column a unit
    variance: that of :class:`TablePicture`, then height, print and fixing of the robot's mark (5) and its paper (8).
    """

    pose: Pose
    covariance: Array
    shared: Array = field(default_factory=lambda: np.zeros((3, 0)))

    def half_ranges(self) -> tuple[float, float, float]:
        """Half the 95 % ranges of x, y (mm) and heading (degrees)."""
        x, y, heading = NINETEEN_IN_TWENTY * np.sqrt(np.diag(self.covariance))
        return float(x), float(y), float(heading)

    def from_goal(self, goal: Pose) -> tuple[Array, Array]:
        """(along, to the left, heading) off a goal in the goal's own directions, and the covariance, (3, 3).

        Examples
        --------
        >>> seen = SeenRobot(Pose(100.0, 210.0, 92.0), np.diag([1.0, 4.0, 0.25]))
        >>> off, covariance = seen.from_goal(Pose(103.0, 200.0, 90.0))
        >>> off.round(6).tolist(), np.diag(covariance).round(6).tolist()
        ([10.0, 3.0, 2.0], [4.0, 1.0, 0.25])
        """
        c, s = math.cos(math.radians(goal.heading_deg)), math.sin(math.radians(goal.heading_deg))
        turn = np.array([[c, s, 0.0], [-s, c, 0.0], [0.0, 0.0, 1.0]])
        heading = math.remainder(self.pose.heading_deg - goal.heading_deg, 360.0)
        off = turn @ (self.pose.x_mm - goal.x_mm, self.pose.y_mm - goal.y_mm, heading)
        return off, turn @ self.covariance @ turn.T


def see_robot(picture: TablePicture, mark: RobotMark, seen: SeenMark) -> SeenRobot:
    """The pose of a robot whose mark is in a picture of the table.

    Fitted are the pose (3), the mark's height (1) and print (1), how it is fixed (3) and the camera (11) again. All but
    the pose are also observed beforehand: the camera as the table's marks have it, with its covariance.

    Raises
    ------
    FitError
        ``unclear`` (blurred or too small), ``mark_bent`` (bent, or at another height or of another size than said),
        and as :meth:`Camera.points`.

    Examples
    --------
    A camera known for sure, straight above:

    >>> from motion.picture.camera.lens import Camera, Lens
    >>> camera = Camera(Lens(1000.0, 500.0, 400.0), np.diag([1.0, -1.0, -1.0]), np.array([0.0, 0.0, 1000.0]))
    >>> table = TablePicture(camera, 1e-12 * np.eye(11), 1.0, np.zeros((0, 3)), np.zeros((0, 4, 2)), np.zeros(0), 0, (1000, 800))
    >>> corners = np.column_stack([square_corners(50.0, 100.0, 50.0, turn_deg=-90.0), np.full(4, 80.0)])
    >>> found = see_robot(table, RobotMark(7, 50.0, 80.0, ahead_mm=10.0), SeenMark(7, camera.pixels(corners), 0.2))
    >>> round(found.pose.x_mm, 3), round(found.pose.y_mm, 3), round(found.pose.heading_deg, 3) + 0.0
    (90.0, 50.0, 0.0)
    """
    if not seen.sd_px <= LEAST_CLEAR * seen.side_px:
        raise FitError(
            MotionCode.UNCLEAR,
            _(
                "The robot's mark is not clear in the picture: hold the camera still, wait until it is sharp, come nearer."
            ),
        )
    guess = picture.camera.points(seen.corners_px, mark.height_mm)
    up = guess[0] + guess[1] - guess[2] - guess[3]
    heading = math.atan2(up[1], up[0])
    c, s = math.cos(heading), math.sin(heading)
    middle = guess.mean(axis=0) - (c * mark.ahead_mm - s * mark.left_mm, s * mark.ahead_mm + c * mark.left_mm)
    # The turn in radians about the first guess.
    start = np.concatenate([middle, [0.0, mark.height_mm, 0.0], np.zeros(3), np.zeros(CAMERA_UNKNOWNS)])
    equations = _Equations(picture, mark, seen, heading)
    found = optimize.least_squares(equations.residuals, start, jac="3-point", x_scale=equations.sizes)
    misfit = 2.0 * float(found.cost)
    if misfit > float(special.chdtri(5.0, FALSE_ALARM)):
        raise FitError(
            MotionCode.MARK_BENT,
            _(
                "The robot's mark does not fit: fix it flat, print it at 100 %, and measure its height above the table again."
            ),
        )
    size = np.linalg.norm(found.jac, axis=0)
    inverse = np.linalg.pinv(found.jac / size) / size[:, None]
    to_degrees = np.diag([1.0, 1.0, math.degrees(1.0)])
    covariance = to_degrees @ (inverse @ inverse.T)[:3, :3] @ to_degrees
    shared = to_degrees @ equations.shared(inverse[:3])
    x, y, turned = found.x[:3]
    pose = Pose(float(x), float(y), math.remainder(math.degrees(heading + float(turned)), 360.0))
    return SeenRobot(pose, covariance, shared)


class _Equations:
    """Observations of one robot's mark: eight of the picture, the camera's, and what was measured on the robot.

    Unknown are x, y and turn (radians from ``heading``), height, the logarithm of the print's scale, how far off the
    mark is fixed (ahead, left, radians), and the camera's.
    """

    def __init__(self, picture: TablePicture, mark: RobotMark, seen: SeenMark, heading: float) -> None:
        self._picture, self._mark, self._heading = picture, mark, heading
        self._pixels, self._sd_px = seen.corners_px, weight_px(seen, mark.side_mm)
        self._paper = paper_share(seen, mark.side_mm)
        sd = np.sqrt(np.diag(picture.covariance))
        spread, turn = np.linalg.eigh(picture.covariance / np.outer(sd, sd))
        # Divides what the camera is off by into parts that are independent, each of unit variance.
        self._whiten = (turn / np.sqrt(np.maximum(spread, 1e-12))).T / sd
        self.sizes = np.concatenate(
            [[1.0, 1.0, 0.02, 1.0, 0.002, 0.5, 0.5, 0.005], np.sqrt(np.diag(picture.covariance))]
        )

    def residuals(self, unknown: Array) -> Array:
        x, y, turned, height, scale, ahead, left, askew = unknown[:8]
        off = unknown[8:]
        c, s = math.cos(self._heading + turned), math.sin(self._heading + turned)
        ahead_mm, left_mm = self._mark.ahead_mm + ahead, self._mark.left_mm + left
        middle = (x + c * ahead_mm - s * left_mm, y + s * ahead_mm + c * left_mm)
        # A mark's upper edge looks to y when it is not turned, a robot with heading 0 to x.
        turn_deg = math.degrees(self._heading + turned + askew) - 90.0
        flat = square_corners(self._mark.side_mm * math.exp(scale), *middle, turn_deg)
        points = np.column_stack([flat, np.full(4, height)])
        in_picture = (self._pixels - self._picture.camera_at(off).pixels(points)) / self._sd_px
        known = (
            (height - self._mark.height_mm) / self._mark.height_sd_mm,
            scale / SCALE_SD,
            ahead / FIXED_SD_MM,
            left / FIXED_SD_MM,
            askew / math.radians(FIXED_SD_DEG),
        )
        return np.concatenate([in_picture.ravel(), known, self._whiten @ off])

    def shared(self, inverse: Array) -> Array:
        """Rows of the inverse of the slopes, as they follow what pictures have alike (see :class:`SeenRobot`)."""
        by_table = inverse[:, 13:] @ self._whiten @ self._picture.shared
        by_paper = -inverse[:, :8] @ np.kron(np.eye(4), self._paper)
        return np.column_stack([by_table, -inverse[:, 8:13], by_paper])
