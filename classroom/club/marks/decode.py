"""A picture's bytes made into greys, within bounds of bytes, pixels and memory; nothing is kept and nothing is written.

Of what a picture's file says beside its pixels only the orientation is read. Where it was taken, when and with what is
never looked at.
"""

from __future__ import annotations

import io
from typing import TYPE_CHECKING, Any

import numpy as np
from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy as _  # what refuses here is read by somebody in another process
from numpy.typing import NDArray

from classroom.errors import ClassroomCode, InputError

if TYPE_CHECKING:
    from PIL.Image import Image

Greys = NDArray[np.uint8]

MOST_BYTES = 24_000_000
#: Pixels of a picture as decoded: what phones take, and what still measures in good time.
MOST_PIXELS = 16_500_000
#: A JPEG picture of the plain kind is decoded at half its size from there on, which costs no memory for the rest.
MOST_PIXELS_HALVED = 4 * MOST_PIXELS
FEWEST_PIXELS = 200_000
#: A side a good deal longer than the other is no camera's picture.
LONGEST_SHAPE = 4.0

_SIGNATURES = {b"\xff\xd8\xff": "JPEG", b"\x89PNG\r\n\x1a\n": "PNG"}
#: Begins of archives, documents and programs that somebody may have put behind a picture.
_BEHIND = (
    b"PK\x03\x04",
    b"PK\x05\x06",
    b"%PDF-",
    b"Rar!\x1a",
    b"7z\xbc\xaf",
    b"<html",
    b"<script",
    b"<?php",
    b"#!/",
    b"\x7fELF",
)
_ORIENTATION = 0x0112


def greys_of(data: bytes) -> Greys:
    """The picture as greys, (height, width), upright as its file says.

    Raises
    ------
    InputError
        ``empty``, ``too_big`` (bytes or pixels), ``not_a_picture`` (neither JPEG nor PNG, or broken within),
        ``cut_short``, ``moving``, ``other_colours``, ``two_files_in_one``, ``too_small``.
    """
    if not data:
        raise InputError(ClassroomCode.EMPTY, _("No picture came; take one, or choose one."))
    if len(data) > MOST_BYTES:
        raise too_many_bytes()
    kind = next((kind for begin, kind in _SIGNATURES.items() if data.startswith(begin)), None)
    if kind is None:
        raise InputError(
            ClassroomCode.NOT_A_PICTURE,
            _("This is no JPEG or PNG picture; set the camera to its most compatible format, and take it again."),
        )
    behind = _behind(data, kind)
    if behind is None:
        raise _cut_short()
    if any(begin in behind for begin in _BEHIND):
        raise InputError(
            ClassroomCode.TWO_FILES_IN_ONE, _("Another file hides in this picture; take a new one with the camera.")
        )
    return _decode(data, kind)


def _decode(data: bytes, kind: str) -> Greys:
    # Pillow is loaded only by a process that is asked for a picture.
    from PIL import Image as pillow
    from PIL import UnidentifiedImageError  # as above

    try:
        with pillow.open(io.BytesIO(data), formats=[kind]) as image:
            _check_shape(image, kind)
            upright = int(image.getexif().get(_ORIENTATION, 1))
            if kind == "JPEG":
                width, height = image.size
                halved = width * height > MOST_PIXELS
                # A JPEG's greys are stored by themselves, so that its colours need not be decoded.
                image.draft("L", (width // 2, height // 2) if halved else (width, height))
            greys = np.array(image if image.mode == "L" else image.convert("L"))
    except (InputError, MemoryError):
        raise
    except pillow.DecompressionBombError as error:
        raise _too_many_pixels() from error
    except UnidentifiedImageError as error:
        raise _broken() from error
    except OSError as error:
        raise (_cut_short() if "truncated" in str(error) else _broken()) from error
    except Exception as error:  # what a decoder trips over in a crafted file has no common type
        raise _broken() from error
    return np.ascontiguousarray(_TURNS.get(upright, _as_it_is)(greys))


def _check_shape(image: Image, kind: str) -> None:
    width, height = image.size
    if kind == "PNG" and getattr(image, "is_animated", False):
        raise InputError(ClassroomCode.MOVING, _("This picture moves; take a still one."))
    if image.mode not in ("L", "RGB", "RGBA"):
        raise InputError(
            ClassroomCode.OTHER_COLOURS,
            _("This picture's colours are made for printing or science; take one with the camera as it comes."),
        )
    streams = kind == "JPEG" and not image.info.get("progressive")
    if width * height > (MOST_PIXELS_HALVED if streams else MOST_PIXELS):
        raise _too_many_pixels()
    if width * height < FEWEST_PIXELS or max(width, height) > LONGEST_SHAPE * min(width, height):
        raise InputError(
            ClassroomCode.TOO_SMALL,
            _("This is too small or too narrow for a camera's picture; send the picture itself."),
        )


def _behind(data: bytes, kind: str) -> bytes | None:
    """What comes after the picture's own end; None when it never ends."""
    if kind == "PNG":
        end = data.rfind(b"IEND")
        return None if not 0 <= end <= len(data) - 8 else data[end + 8 :]
    at = 2
    while at + 4 <= len(data) and data[at] == 0xFF:
        marker = data[at + 1]
        if marker == 0xD9:
            return data[at + 2 :]
        if marker == 0xFF or marker == 0x01 or 0xD0 <= marker <= 0xD7:
            at += 1 if marker == 0xFF else 2
            continue
        at += 2 + int.from_bytes(data[at + 2 : at + 4])
        if marker == 0xDA:  # coded pixels follow, in which 0xFF stands before 0 or a restart only
            at = _next_segment(data, at)
            if at < 0:
                return None
    return data[at + 2 :] if data[at : at + 2] == b"\xff\xd9" else None


def _next_segment(data: bytes, at: int) -> int:
    while True:
        at = data.find(b"\xff", at)
        if at < 0 or at + 1 >= len(data):
            return -1
        if data[at + 1] != 0 and not 0xD0 <= data[at + 1] <= 0xD7 and data[at + 1] != 0xFF:
            return at
        at += 1 if data[at + 1] == 0xFF else 2


def _as_it_is(greys: Greys) -> Greys:
    return greys


#: What the orientation in a picture's file asks for (Exif 2.3, tag 0x0112, from memory).
_TURNS: dict[int, Any] = {
    2: lambda greys: greys[:, ::-1],
    3: lambda greys: greys[::-1, ::-1],
    4: lambda greys: greys[::-1],
    5: lambda greys: greys.T,
    6: lambda greys: np.rot90(greys, -1),
    7: lambda greys: greys[::-1, ::-1].T,
    8: lambda greys: np.rot90(greys),
}


def too_many_bytes() -> InputError:
    words = _("This file has over {megabytes} MB; take the picture with the camera's ordinary quality.")
    return InputError(ClassroomCode.TOO_BIG, format_lazy(words, megabytes=MOST_BYTES // 1_000_000))


def _too_many_pixels() -> InputError:
    return InputError(
        ClassroomCode.TOO_BIG,
        _("This picture has too many pixels; set the camera to about 12 million, and take it again."),
    )


def _cut_short() -> InputError:
    return InputError(ClassroomCode.CUT_SHORT, _("The picture's end is missing; send it again."))


def _broken() -> InputError:
    return InputError(ClassroomCode.NOT_A_PICTURE, _("This picture's file is damaged; take a new one with the camera."))
