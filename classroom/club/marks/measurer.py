"""Pictures are measured by a process of its own, to which everything else on the machine goes first.

Finding marks and fitting a table takes a processor for a good part of a second. Were it done by a thread of the process
that serves pages, runs that tablets save would wait for the interpreter, and for the processor too.

The measurer is started by the first picture and stays for the next ones. It is handed a function and what to call it
with, and hands back what that gave or the error that it raised: through two pipes, and nowhere else. Its questions come
by its standard input, as a worker's parent is watched (``config/process/supervisor.py``): when the asking process ends,
however it ends, so does the pipe, and the measurer with it. It does without Django's settings, database and log. What
bounds it guards the site against a picture that costs too much; it is no wall around a decoder that was taken over.
"""

from __future__ import annotations

import contextlib
import logging
import os
import pickle
import queue
import signal
import subprocess
import sys
import threading
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any, ParamSpec, TypeVar

from django.utils.translation import gettext_lazy as _

from classroom.errors import ClassroomCode, HelmroomError, InputError
from motion.errors import MotionError

log = logging.getLogger(__name__)

P = ParamSpec("P")
T = TypeVar("T")

ROOT = Path(__file__).resolve().parents[3]
#: How long one answer may take until its process is ended; a picture takes a good part of a second. Together with the wait
#: less than the minute that a proxy gives a page.
LONGEST_S = 30.0
#: How long a picture waits for the one before it.
LONGEST_WAIT_S = 15.0
#: Steps below everything else: it has a tenth of a processor where others want all of it (sched(7)), and all where none does.
NICE = 10
#: Bytes of addresses: twice what libraries and the largest picture took together (580 MB, November 2026).
MOST_MEMORY = 1_200_000_000
#: The one processor that it may keep busy.
ONE_THREAD = {f"{library}_NUM_THREADS": "1" for library in ("OMP", "OPENBLAS", "MKL", "NUMBA")}


class PicturesBusyError(HelmroomError):
    """Others are being measured; the page asks again by itself."""

    status = 503


def other_pictures() -> PicturesBusyError:
    return PicturesBusyError(ClassroomCode.BUSY, _("Other pictures are being measured. Send it again in a moment."))


@dataclass(frozen=True)
class Failure:
    """What went wrong within the measurer and where, with nothing of what it was handed."""

    words: str


class Measurer:
    """One at a time; the process is started when there is none."""

    def __init__(self, longest_s: float = LONGEST_S, longest_wait_s: float = LONGEST_WAIT_S) -> None:
        self.longest_s, self.longest_wait_s = longest_s, longest_wait_s
        self._turn = threading.Lock()
        self._process: subprocess.Popen[bytes] | None = None

    @property
    def pid(self) -> int | None:
        return self._process.pid if self._process else None

    def ask(self, function: Callable[P, T], *args: P.args, **more: P.kwargs) -> T:
        """What ``function`` gives in the measurer; it is found there by its name.

        Raises
        ------
        PicturesBusyError
            ``busy``: it is not this one's turn in good time.
        InputError
            ``over_time``, ``not_measured``: it took too long, or failed. The next picture has a new process.
        HelmroomError, MotionError
            As the function raises it.
        """
        if not self._turn.acquire(timeout=self.longest_wait_s):
            raise other_pictures()
        try:
            reply = self._answer((function, args, more))
        finally:
            self._turn.release()
        if isinstance(reply, HelmroomError | MotionError):
            raise reply
        if isinstance(reply, Failure):
            log.error("Measuring a picture failed: %s", reply.words)
            raise _not_measured()
        return reply

    def end(self) -> None:
        """The next question starts another."""
        if (process := self._process) is None:
            return
        self._process = None
        process.kill()
        process.wait()
        for pipe in (process.stdin, process.stdout):
            assert pipe is not None
            with contextlib.suppress(OSError):  # what it was not told any more is still in the pipe's buffer
                pipe.close()

    def _answer(self, question: Any) -> Any:
        process = self._running()
        assert process.stdin is not None and process.stdout is not None
        over = threading.Event()

        def end() -> None:
            over.set()
            process.kill()  # and with it the pipe that is read below, on every system

        clock = threading.Timer(self.longest_s, end)
        clock.daemon = True
        clock.start()
        came = False
        try:
            pickle.dump(question, process.stdin)
            process.stdin.flush()
            reply = pickle.load(process.stdout)
            came = True
        except (EOFError, OSError, pickle.UnpicklingError):
            pass  # it has ended, in the middle of its answer perhaps
        finally:
            clock.cancel()
            clock.join()
            if over.is_set() or not came:
                self.end()
        if came:
            return reply
        log.warning(
            "The process that measures pictures ended (%s); the next picture starts another.", process.returncode
        )
        raise _too_long() if over.is_set() else _not_measured()

    def _running(self) -> subprocess.Popen[bytes]:
        if self._process is not None and self._process.poll() is not None:
            self.end()
        if self._process is None:
            try:
                self._process = subprocess.Popen(
                    [sys.executable, "-c", f"from {__name__} import serve; serve()"],
                    stdin=subprocess.PIPE,
                    stdout=subprocess.PIPE,
                    cwd=ROOT,
                    env=os.environ | ONE_THREAD,
                    # No session of its own: Linux may share the processor out by sessions first and only then by priority.
                    creationflags=0 if os.name == "posix" else subprocess.BELOW_NORMAL_PRIORITY_CLASS,  # type: ignore[attr-defined]
                )
            except OSError as error:
                log.error("The process that measures pictures did not start: %s", error)
                raise _not_measured() from error
        return self._process


#: This process's one.
measurer = Measurer()


def _too_long() -> InputError:
    return InputError(
        ClassroomCode.OVER_TIME,
        _("Measuring this picture took too long. Take a new one, with nothing but the table in it."),
    )


def _not_measured() -> InputError:
    return InputError(ClassroomCode.NOT_MEASURED, _("This picture could not be measured. Take a new one."))


def serve() -> None:
    """The measurer's whole life: it ends when nobody can ask any more."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for its parent, whose end it follows
    questions, answers = _own_pipes()
    _hold_back()
    coming: queue.SimpleQueue[Any] = queue.SimpleQueue()
    threading.Thread(target=_listen, args=(questions, coming), daemon=True).start()
    while True:
        answers.write(_reply(*coming.get()))
        answers.flush()


def _own_pipes() -> tuple[IO[bytes], IO[bytes]]:
    """A library that prints must not print into an answer."""
    answers = os.fdopen(os.dup(1), "wb")
    os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
    return sys.stdin.buffer, answers


def _hold_back() -> None:
    sys.dont_write_bytecode = True
    if os.name != "posix":
        return
    import resource  # late: there is none on Windows

    os.nice(NICE)
    # Not one byte can be written to a file, nor left in one by a crash.
    resource.setrlimit(resource.RLIMIT_FSIZE, (0, 0))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    if sys.platform == "linux":  # elsewhere addresses say little of memory
        resource.setrlimit(resource.RLIMIT_AS, (MOST_MEMORY, MOST_MEMORY))


def _listen(questions: IO[bytes], coming: queue.SimpleQueue[Any]) -> None:
    """Also while something is measured, so that the end of the pipe is noticed then too."""
    try:
        while True:
            coming.put(pickle.load(questions))
    finally:  # nobody asks any more, perhaps since the middle of a question
        os._exit(0)


def _reply(function: Callable[..., Any], args: tuple[Any, ...], more: dict[str, Any]) -> bytes:
    reply: Any
    try:
        reply = function(*args, **more)
    except (HelmroomError, MotionError) as error:
        reply = error.with_traceback(None)
    except Exception as error:  # whatever it is: this picture is refused, and the next one is measured
        trace = error.__traceback__
        while trace is not None and trace.tb_next is not None:
            trace = trace.tb_next
        where = f"{trace.tb_frame.f_code.co_filename}:{trace.tb_lineno}" if trace else ""
        reply = Failure(f"{type(error).__name__} in {where}")
    return pickle.dumps(reply)
