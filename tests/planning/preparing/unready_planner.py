"""A process like one that serves pages, in which the kernels are not compiled yet."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from planning.preparing import kernels


class UnreadyPlanner:
    """Until ``get_ready`` whatever would call a kernel fails the test."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch, settings: Any, folder: Path) -> None:
        settings.DATA_DIR = folder
        monkeypatch.setenv("NUMBA_CACHE_DIR", str(folder / "numba"))
        monkeypatch.setattr(kernels, "_here", kernels._ThisProcess())
        self._patch = pytest.MonkeyPatch()
        for name in ("check_course", "action_room", "expected_of"):
            self._patch.setattr(f"motion.check.{name}", self._too_early)

    def _too_early(self, *_: Any, **__: Any) -> None:
        raise AssertionError("a page called a kernel that is not compiled")

    def tell(self, done: int, of: int = 72, *, failed: bool = False) -> None:
        kernels.tell_preparation(done, of, failed=failed)

    def get_ready(self) -> None:
        """As ``config.process.warm.compile_all`` ends, but for the kernels: the suite compiles as it goes."""
        self.let_go()
        for path in (kernels.begun_file(), kernels.stamp_file()):
            kernels.write_whole(path, kernels.stamp_text())

    def let_go(self) -> None:
        self._patch.undo()
