"""Reading the files that the commands are given."""

from __future__ import annotations

from pathlib import Path

from motion.errors import SceneError
from motion.scene.file_fields import MAX_BYTES
from motion.units import figure
from planning.errors import PlanningCode


def read_file(path: str) -> bytes:
    """The file's content; one that is too large is never read.

    Raises
    ------
    SceneError
        ``no_file`` or ``too_large``.
    """
    try:
        with Path(path).open("rb") as file:
            data = file.read(MAX_BYTES + 1)  # a device says that it is empty and never ends
        if len(data) > MAX_BYTES:
            size = max(Path(path).stat().st_size, len(data))
            raise SceneError(
                PlanningCode.TOO_LARGE,
                f"The file has {figure(size / 1e6, 1)} MB; a scene or course has at most {figure(MAX_BYTES / 1e6)} MB. "
                "Check that it is the right file.",
            )
        return data
    except OSError as error:
        raise SceneError(PlanningCode.NO_FILE, f"Cannot be read ({error.strerror}); check its name.") from None
