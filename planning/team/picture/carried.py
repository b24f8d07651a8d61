"""A fitted camera on its way to the browser and back, signed: nothing of a picture stays with us between two requests."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from django.core import signing

from classroom.errors import InputError
from missions.models import TierVersion
from motion.picture.camera.equations import CAMERA_UNKNOWNS
from motion.picture.camera.lens import Camera, Lens
from motion.picture.camera.table_fit import TablePicture
from planning.errors import PlanningCode
from planning.team.picture.measure import SeenTable

SALT = "helmroom.picture"
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


def _over() -> InputError:
    return InputError(
        PlanningCode.PICTURE_OVER, "This picture is too old, or of another table. Take a new one; nothing else is lost."
    )
