"""A fitted camera, or where a robot stood, on its way to the browser and back, signed: nothing stays with us in between."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from django.core import signing
from django.utils.translation import gettext as _

from classroom.errors import InputError
from classroom.models import Robot
from missions.models import MissionVersion, TierVersion
from motion.picture.camera.equations import CAMERA_UNKNOWNS
from motion.picture.camera.lens import Camera, Lens
from motion.picture.camera.robot_pose import SeenRobot
from motion.picture.camera.table_fit import TablePicture
from motion.scene.records import Pose
from planning.errors import PlanningCode
from planning.team.picture.measure import SeenTable

SALT, STAND_SALT = "helmroom.picture", "helmroom.picture.stand"
#: A table is set up anew before that.
LONGEST_S = 3 * 60 * 60
_UPPER = np.triu_indices(CAMERA_UNKNOWNS)


@dataclass(frozen=True)
class CarriedFit:
    """What came back: the fitted picture, and how sure a place in it is."""

    table: TablePicture
    sure_to_mm: float


def sign_fit(club_id: int, edition: TierVersion, seen: SeenTable) -> str:
    """The camera and its covariance as text that only we can have written."""
    camera, lens = seen.table.camera, seen.table.camera.lens
    record = {
        "club": club_id,
        "edition": edition.pk,
        "lens": [lens.focal_px, lens.middle_u_px, lens.middle_v_px, lens.k1, lens.k2],
        "rotation": camera.rotation.tolist(),
        "place": camera.place.tolist(),
        "covariance": seen.table.covariance[_UPPER].tolist(),
        "size": list(seen.table.size_px),
        "sure_to": seen.sure_to_mm,
    }
    return signing.dumps(record, salt=SALT, compress=True)


def read_fit(text: str, club_id: int, edition: TierVersion) -> CarriedFit:
    """The fit that :func:`sign_fit` wrote for this club and this edition of the tier.

    Raises
    ------
    InputError
        ``picture_over``: too old, of another table, or not ours.
    """
    try:
        record: dict[str, Any] = signing.loads(text, salt=SALT, max_age=LONGEST_S)
    except signing.BadSignature as error:
        raise _over() from error
    if (record["club"], record["edition"]) != (club_id, edition.pk):
        raise _over()
    covariance = np.zeros((CAMERA_UNKNOWNS, CAMERA_UNKNOWNS))
    covariance[_UPPER] = record["covariance"]
    covariance += np.triu(covariance, 1).T
    camera = Camera(Lens(*record["lens"]), np.array(record["rotation"]), np.array(record["place"]))
    width, height = record["size"]
    none = np.zeros(0)
    table = TablePicture(
        camera, covariance, 1.0, none.reshape(0, 3), none.reshape(0, 4, 2), none, 0, (int(width), int(height))
    )
    return CarriedFit(table, float(record["sure_to"]))


def sign_stand(robot: Robot, version: MissionVersion, sheet_set: int, seen: SeenRobot) -> str:
    """Where a robot stands on a table with a set of sheets, as text that only we can have written."""
    record = {
        "of": [robot.pk, version.pk, sheet_set],
        # A mark that is fixed or measured anew since is another one.
        "mark": _mark_of(robot),
        "pose": [seen.pose.x_mm, seen.pose.y_mm, seen.pose.heading_deg],
        "covariance": seen.covariance.tolist(),
        "shared": seen.shared.round(7).tolist(),
    }
    return signing.dumps(record, salt=STAND_SALT, compress=True)


def read_stand(text: str, robot: Robot, version: MissionVersion, sheet_set: int) -> SeenRobot:
    """Where :func:`sign_stand` said that this robot stood on this table.

    Raises
    ------
    InputError
        ``picture_over``: too old, of another robot or table, or not ours.
    """
    try:
        record: dict[str, Any] = signing.loads(text, salt=STAND_SALT, max_age=LONGEST_S)
    except signing.BadSignature as error:
        raise _first_over() from error
    if record["of"] != [robot.pk, version.pk, sheet_set] or record["mark"] != _mark_of(robot):
        raise _first_over()
    return SeenRobot(Pose(*record["pose"]), np.array(record["covariance"]), np.array(record["shared"]))


def _mark_of(robot: Robot) -> list[float | None]:
    return [robot.top_mark, robot.top_mark_height_mm, robot.top_mark_ahead_mm, robot.top_mark_left_mm]


def _first_over() -> InputError:
    return InputError(
        PlanningCode.PICTURE_OVER,
        _(
            "The first picture is too old, or of another table or robot. Begin with a new first picture; the form keeps the rest."
        ),
    )


def _over() -> InputError:
    return InputError(
        PlanningCode.PICTURE_OVER,
        _("This picture is too old, or of another table. Take a new one; nothing else is lost."),
    )
