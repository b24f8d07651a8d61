"""Where a robot stands to push: the contact on the target's face and the axle pose that puts its nose there.

A contact is told without a robot: the point on the face that the middle of the nose must meet, and the push heading.
Each robot then stands ``gap_mm`` short of it, farther back the longer its nose.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from motion.scene.records import Point, Pose

#: Corners within this of the foremost one belong to the nose's face.
FACE_MM = 1.0


@dataclass(frozen=True)
class Nose:
    """The foremost part of a robot: how far ahead of the axle it is, and how far left of the middle line."""

    reach_mm: float
    left_mm: float


def nose_of(footprint: Sequence[Sequence[Point]]) -> Nose:
    """The nose of a footprint (polygons about the axle's midpoint, nose along +x, mm).

    >>> nose_of([[(-50, -75), (150, -75), (150, 75), (-50, 75)], [(150, -10), (200, -10), (200, 40), (150, 40)]])
    Nose(reach_mm=200, left_mm=15.0)
    """
    corners = [corner for part in footprint for corner in part]
    reach = max(x for x, _ in corners)
    face = [y for x, y in corners if x >= reach - FACE_MM]
    return Nose(reach, (min(face) + max(face)) / 2)


def precontact_of(contact: Pose, nose: Nose, gap_mm: float) -> Pose:
    """Axle pose (mm, degrees) from which driving ``gap_mm`` straight ahead brings the nose to the contact.

    >>> precontact_of(Pose(1900, 600, 0), Nose(200, 15), 30)
    Pose(x_mm=1670.0, y_mm=585.0, heading_deg=0)
    """
    return _moved(contact, -(nose.reach_mm + gap_mm), -nose.left_mm)


def contact_of(precontact: Pose, nose: Nose, gap_mm: float) -> Pose:
    """The contact that a pre-contact pose was made for; the inverse of :func:`precontact_of`.

    >>> contact_of(Pose(1670, 585, 0), Nose(200, 15), 30)
    Pose(x_mm=1900.0, y_mm=600.0, heading_deg=0)
    """
    return _moved(precontact, nose.reach_mm + gap_mm, nose.left_mm)


def _moved(pose: Pose, ahead_mm: float, left_mm: float) -> Pose:
    h = math.radians(pose.heading_deg)
    x = pose.x_mm + ahead_mm * math.cos(h) - left_mm * math.sin(h)
    y = pose.y_mm + ahead_mm * math.sin(h) + left_mm * math.cos(h)
    return Pose(round(x, 3), round(y, 3), pose.heading_deg)
