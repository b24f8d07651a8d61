"""Marks found in greys: which numbers of the dictionary, where their corners are, and how surely."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from django.utils.translation import gettext_lazy as _  # as in decode.py

from classroom.club.marks.decode import Greys, greys_of
from classroom.club.marks.edges import fine_corners
from classroom.club.marks.numbers import MODULES
from classroom.errors import ClassroomCode, InputError
from motion.picture.camera.laid import SeenMark

if TYPE_CHECKING:
    from cv2 import aruco

#: The longer side of the picture in which marks are looked for; their corners are made fine in the whole one.
LOOKED_AT_PX = 3000
#: The smallest mark, by its perimeter as a share of the looked-at picture's longer side: a side of about 8 pixels there.
SMALLEST = 0.011
#: Four-sided shapes in a picture, looked at with one threshold: a room has some tens. Comparing each with each takes
#: long for thousands, as a made-up picture has.
MOST_SQUARES = 1000
#: Windows of the detector's thresholds, in pixels: its own ordinary ones.
_WINDOWS = (3, 13, 23)


def marks_in(data: bytes) -> tuple[list[SeenMark], tuple[int, int]]:
    """Marks of a picture's file, and its width and height.

    Raises
    ------
    InputError
        As :func:`greys_of` and :func:`find_marks`.
    """
    greys = greys_of(data)
    return find_marks(greys), (greys.shape[1], greys.shape[0])


def find_marks(greys: Greys) -> list[SeenMark]:
    """All marks of the dictionary in a picture, by number; a mark that is there twice is in the list twice.

    Raises
    ------
    InputError
        ``mirrored`` when there are marks only in the picture's mirror image, ``too_many_squares``.
    """
    # OpenCV is loaded only by a process that is asked for a picture.
    import cv2

    cv2.setNumThreads(1)
    detector = _detector()
    shrink = max(1.0, max(greys.shape) / LOOKED_AT_PX)
    size = (round(greys.shape[1] / shrink), round(greys.shape[0] / shrink))
    small = np.asarray(cv2.resize(greys, size, interpolation=cv2.INTER_AREA) if shrink > 1.0 else greys, dtype=np.uint8)
    _check_squares(small)
    corners, numbers, _rejected = detector.detectMarkers(small)
    if numbers is None or not len(numbers):
        _corners, mirrored, _rejected = detector.detectMarkers(np.ascontiguousarray(small[:, ::-1]))
        if mirrored is not None and len(mirrored):
            raise InputError(
                ClassroomCode.MIRRORED,
                _("The picture is mirrored; take it with the camera at the back, with no mirroring switched on."),
            )
        return []
    scale = np.array([greys.shape[1] / size[0], greys.shape[0] / size[1]])
    seen = []
    for number, found in zip(np.ravel(numbers), corners, strict=True):
        rough = (np.asarray(found, dtype=float).reshape(4, 2) + 0.5) * scale - 0.5
        fine = fine_corners(greys, rough, MODULES)
        # A mark without clear edges stays as it was found, as unsure as that is: it is refused by name later.
        seen.append(SeenMark(int(number), *fine) if fine else SeenMark(int(number), rough, float(2.0 * scale.max())))
    return sorted(seen, key=lambda mark: mark.number)


def _check_squares(small: Greys) -> None:
    """Counts the shapes that the detector would compare, the way it finds them."""
    # As above.
    import cv2

    least = SMALLEST * max(small.shape)
    for window in _WINDOWS:
        dark = cv2.adaptiveThreshold(small, 255, cv2.ADAPTIVE_THRESH_MEAN_C, cv2.THRESH_BINARY_INV, window, 7)
        count = 0
        for outline in cv2.findContours(dark, cv2.RETR_LIST, cv2.CHAIN_APPROX_NONE)[0]:
            if len(outline) >= least and len(cv2.approxPolyDP(outline, 0.03 * len(outline), True)) == 4:
                count += 1
            if count > MOST_SQUARES:
                raise InputError(
                    ClassroomCode.TOO_MANY_SQUARES,
                    _("There are too many small squares in this picture; take it with nothing but the table in it."),
                )


def _detector() -> aruco.ArucoDetector:
    # As above.
    from cv2 import aruco

    parameters = aruco.DetectorParameters()
    parameters.adaptiveThreshWinSizeMin, parameters.adaptiveThreshWinSizeMax = _WINDOWS[0], _WINDOWS[-1]
    parameters.adaptiveThreshWinSizeStep = _WINDOWS[1] - _WINDOWS[0]
    parameters.minMarkerPerimeterRate = SMALLEST
    parameters.cornerRefinementMethod = aruco.CORNER_REFINE_NONE
    return aruco.ArucoDetector(aruco.getPredefinedDictionary(aruco.DICT_APRILTAG_36h11), parameters)
