"""What lies in the data folder is its owner's alone: database, copies, secret, sign-ins of the demonstration."""

from __future__ import annotations

import os
from pathlib import Path

FOLDER, FILE = 0o700, 0o600


def keep_private(folder: Path) -> None:
    """The folder and all in it, now and for whatever this process makes from now on. Windows has rights of its own kind."""
    if os.name != "posix":
        return
    os.umask(0o077)
    folder.mkdir(parents=True, exist_ok=True, mode=FOLDER)
    for path in (folder, *folder.rglob("*")):
        try:
            path.chmod(FOLDER if path.is_dir() else FILE)
        except OSError:  # it has just been taken away, or is another's; the closed folder keeps it in any case
            continue
