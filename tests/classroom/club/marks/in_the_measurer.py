"""What tests have the measurer do: it finds a function by its name."""

from __future__ import annotations

import os
import resource
import signal
import sys
import time
from pathlib import Path
from typing import Any, NoReturn

from classroom.errors import ClassroomCode, InputError
from motion.errors import MotionCode, NoCourseError


def crash(*_: Any) -> NoReturn:
    os.kill(os.getpid(), signal.SIGSEGV)
    raise AssertionError("still here")


def hang(*_: Any) -> NoReturn:
    while True:
        pass


def stumble(secret: bytes) -> NoReturn:
    raise KeyError(secret)


def refuse() -> NoReturn:
    raise InputError(ClassroomCode.MOVING, "This picture moves.")


def refuse_at_length() -> NoReturn:
    raise NoCourseError(MotionCode.NO_GAP, "There is no gap.", tightest={"gap_mm": 3.0})


def grab(count: int) -> int:
    return len(bytearray(count))


def talk() -> None:
    print("a library that says something", flush=True)
    os.write(1, b"and one that does not ask Python")


def write_a_file(path: str) -> None:
    with Path(path).open("wb", buffering=0) as file:
        file.write(b"a picture")


def wait_for(folder: str, name: str) -> str:
    """Says by an empty file that it has begun, and waits for another."""
    (Path(folder) / f"{name} begun").touch()
    while not (Path(folder) / f"{name} may end").exists():
        time.sleep(0.01)
    return name


def itself() -> dict[str, Any]:
    return {
        "pid": os.getpid(),
        "modules": sorted(sys.modules),
        "nice": os.nice(0),
        "file": resource.getrlimit(resource.RLIMIT_FSIZE),
        "core": resource.getrlimit(resource.RLIMIT_CORE),
        "threads": len(list(Path("/proc/self/task").iterdir())),
        "main": getattr(sys.modules["__main__"], "__file__", None),
    }
