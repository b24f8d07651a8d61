"""Progress, deadline and cancelling in one place; a thread of its own hears of an end while kernels are at work."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor, wait

import numpy as np

from motion.course.sentences import _
from motion.errors import CancelledError, DeadlineError, MotionCode, MotionError

#: How often deadline and cancelling are asked for while a kernel is at work, s.
EVERY_S = 0.05


class Watch:
    """Tells progress and hears of an end: use it as a context, hand :attr:`stop` to kernels and call :meth:`tick`."""

    def __init__(
        self,
        progress: Callable[[float, str], None] | None,
        deadline: Callable[[], float | None] | None,
        cancelled: Callable[[], bool] | None,
    ) -> None:
        self._progress, self._deadline, self._cancelled = progress, deadline, cancelled
        self._from, self._part = 0.0, 1.0
        #: Not 0 once it is to end: kernels look at it.
        self.stop = np.zeros(1, np.int64)
        self._over: Future[None] = Future()
        self._listener: ThreadPoolExecutor | None = None
        self._heard: MotionError | None = None

    def __enter__(self) -> Watch:
        if self._deadline is not None or self._cancelled is not None:
            self._listener = ThreadPoolExecutor(1, "planner's watch")
            self._listener.submit(self._listen)
        return self

    def __exit__(self, *_: object) -> None:
        self._over.set_result(None)
        if self._listener is not None:
            self._listener.shutdown()

    def _listen(self) -> None:
        while wait([self._over], timeout=EVERY_S).not_done:
            self._heard = self._why()
            if self._heard is not None:
                self.stop[0] = 1
                return

    def stage(self, fraction: float, part: float, words: str) -> None:
        """Begin a stage: it begins at a fraction of the whole and is such a part of it."""
        self._from, self._part = fraction, part
        self.tell(0.0, words)

    def tell(self, fraction: float, words: str) -> None:
        """Say how far the stage is."""
        self.tick()
        if self._progress is not None:
            self._progress(min(1.0, self._from + self._part * fraction), words)

    def tick(self) -> None:
        """Raise when it is to end; always called after a kernel, whose answer is then worth nothing."""
        heard = self._heard or self._why()
        if heard is not None:
            raise heard

    def _why(self) -> MotionError | None:
        if self._cancelled is not None and self._cancelled():
            return CancelledError(MotionCode.CANCELLED, _("Planning was stopped."))
        left = None if self._deadline is None else self._deadline()
        if left is not None and left <= 0:
            return DeadlineError(
                MotionCode.DEADLINE,
                _("Planning took longer than it may; leave out some obstacles or corners, or allow more time."),
            )
        return None
