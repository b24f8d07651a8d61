"""A small disk in memory that can be filled to its last byte. Mounting needs root."""

from __future__ import annotations

import os
import subprocess
from pathlib import Path

FILLING = "filling"


def mount(*arguments: str | Path) -> str:
    """Empty when it worked, else why not."""
    if os.name != "posix" or os.geteuid() != 0:
        return "mounting needs root"
    done = subprocess.run(["mount", *arguments], capture_output=True, text=True)
    return done.stderr.strip() if done.returncode else ""


def unmount(folder: Path) -> None:
    subprocess.run(["umount", "--lazy", folder], check=False)


def small_disk(folder: Path, megabytes: int) -> str:
    """At the folder, which is there; empty when it worked, else why not."""
    return mount("-t", "tmpfs", "-o", f"size={megabytes}m,mode=0700", "tmpfs", folder)


def fill(folder: Path) -> None:
    """To the last byte."""
    with (folder / FILLING).open("wb", buffering=0) as filling:
        for size in (1 << 20, 1 << 12, 1):
            try:
                while filling.write(b"\0" * size):
                    pass
            except OSError:
                continue


def make_room(folder: Path) -> None:
    (folder / FILLING).unlink()
