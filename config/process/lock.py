"""One helmroom at a time on one data folder."""

from __future__ import annotations

import os
from pathlib import Path
from typing import IO


class AlreadyRunningError(Exception):
    """Another process holds the folder; ``words`` is what it said of itself (its address and number)."""

    def __init__(self, words: str) -> None:
        super().__init__(words)
        self.words = words


class FolderLock:
    """Held by the operating system for this process: gone when the process is, however it ends."""

    def __init__(self, folder: Path) -> None:
        self._lock_path = folder / "helmroom.lock"
        self._words_path = folder / "running.txt"
        self._file: IO[str] | None = None

    def take(self) -> None:
        """
        Raises
        ------
        AlreadyRunningError
        """
        self._lock_path.parent.mkdir(parents=True, exist_ok=True)
        file = self._lock_path.open("a")
        try:
            _lock(file)
        except OSError:
            file.close()
            words = self._words_path.read_text() if self._words_path.exists() else ""
            raise AlreadyRunningError(words.strip()) from None
        self._file = file
        self._words_path.unlink(missing_ok=True)

    def say(self, words: str) -> None:
        """What a second start is told."""
        self._words_path.write_text(words)

    def release(self) -> None:
        if self._file is not None:
            self._words_path.unlink(missing_ok=True)
            self._file.close()
            self._file = None


def said_address(folder: Path) -> str:
    """Where helmroom says that it runs on this folder, such as ``http://127.0.0.1:8000/``; empty when it does not run."""
    words = folder / "running.txt"
    said = words.read_text().split() if words.exists() else []
    return said[0] if said else ""


if os.name == "posix":
    import fcntl

    def _lock(file: IO[str]) -> None:
        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
else:
    import msvcrt

    def _lock(file: IO[str]) -> None:
        msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)  # type: ignore[attr-defined]
