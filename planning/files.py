"""Reading the files that the commands are given."""

from __future__ import annotations

from pathlib import Path

from motion.errors import SceneError
from motion.file_fields import MAX_BYTES


def read_file(path: str) -> bytes:
    """The file's content; one that is too large is never read.

    Raises
    ------
    SceneError
        ``no_file`` or ``too_large``.
    """
    try:
        size = Path(path).stat().st_size
        if size > MAX_BYTES:
            raise SceneError(
                "too_large",
                f"The file has {size / 1e6:.1f} MB; a scene or course has at most {MAX_BYTES / 1e6:.0f} MB. "
                "Check that it is the right file.",
            )
        return Path(path).read_bytes()
    except OSError as error:
        raise SceneError("no_file", f"Cannot be read ({error.strerror}); check its name.") from None
