"""How far a robot went between two pictures of one table, and how surely: what both share cancels where it does."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from motion.chance.least_squares import Array
from motion.picture.camera.robot_pose import SeenRobot
from motion.scene.records import Point


@dataclass(frozen=True)
class RobotMoved:
    """Where points of a robot are in a second picture, seen from the robot as it stood in the first.

    Attributes
    ----------
    went_mm
        How far each point went ahead and to the left, (n, 2), along the robot's own axes in the first picture.
    turned_deg
        To the left, from -180 to 180.
    covariance
        Of ahead and left of the first point, of the second, ..., and the turn, (2n + 1, 2n + 1), in mm and degrees.
    """

    went_mm: Array
    turned_deg: float
    covariance: Array

    @property
    def sd_mm(self) -> Array:
        """Standard errors of :attr:`went_mm`, (n, 2)."""
        return np.sqrt(np.diag(self.covariance)[:-1]).reshape(-1, 2)

    @property
    def turned_sd_deg(self) -> float:
        return math.sqrt(float(self.covariance[-1, -1]))

    def turned_near(self, told_deg: float) -> float:
        """The turn with as many whole turns as bring it nearest to what the robot was told.

        Examples
        --------
        >>> RobotMoved(np.zeros((0, 2)), -9.0, np.eye(1)).turned_near(1080.0)
        1071.0
        """
        return told_deg + math.remainder(self.turned_deg - told_deg, 360.0)


def robot_moved(before: SeenRobot, after: SeenRobot, points: Sequence[Point] = ((0.0, 0.0),)) -> RobotMoved:
    """How a robot moved between two pictures of the same table, its own mark left on it.

    Parameters
    ----------
    before, after
        Its pose in each. Where marks lie, their paper and the robot's mark as it is fixed are the same in both, so what
        they are off by is the same (``shared``); all else is new in each picture. A camera's lens counts as new.
    points
        Of the robot, (ahead, left) of the middle of its axle, mm.

    Examples
    --------
    Half a metre along y, then a quarter turn to the left; its nose is 100 mm ahead of the axle:

    >>> from motion.scene.records import Pose
    >>> sure = np.diag([1.0, 4.0, 0.25])
    >>> moved = robot_moved(SeenRobot(Pose(0, 0, 90), sure), SeenRobot(Pose(0, 500, 180), sure), [(0, 0), (100, 0)])
    >>> moved.went_mm.round(6).tolist(), moved.turned_deg, moved.sd_mm[0].round(3).tolist()
    ([[500.0, 0.0], [400.0, 100.0]], 90.0, [2.828, 4.587])
    """
    per_degree = math.radians(1.0)
    first, last = math.radians(before.pose.heading_deg), math.radians(after.pose.heading_deg)
    c, s = math.cos(first), math.sin(first)
    axes = np.array([[c, s], [-s, c]])
    ahead, left = axes @ (after.pose.x_mm - before.pose.x_mm, after.pose.y_mm - before.pose.y_mm)
    turned_c, turned_s = math.cos(last - first), math.sin(last - first)
    n = len(points)
    went = np.empty((n, 2))
    # By x, y and heading of the first picture, then of the second.
    slopes = np.zeros((2 * n + 1, 6))
    for i, (x, y) in enumerate(points):
        there = (turned_c * x - turned_s * y, turned_s * x + turned_c * y)
        went[i] = (ahead + there[0] - x, left + there[1] - y)
        by_turn = np.array([-there[1], there[0]]) * per_degree
        slopes[2 * i : 2 * i + 2, 0:2], slopes[2 * i : 2 * i + 2, 3:5] = -axes, axes
        slopes[2 * i : 2 * i + 2, 2] = np.array([left, -ahead]) * per_degree - by_turn
        slopes[2 * i : 2 * i + 2, 5] = by_turn
    slopes[-1, 2], slopes[-1, 5] = -1.0, 1.0
    together = before.shared @ after.shared.T
    covariance = np.block([[before.covariance, together], [together.T, after.covariance]])
    turned = math.remainder(after.pose.heading_deg - before.pose.heading_deg, 360.0)
    return RobotMoved(went, turned, slopes @ covariance @ slopes.T)
