"""A laptop on loopback: ``manage.py start`` with SQLite and a queue of files, on a small disk of its own where that can be made.

Whoever ends it starts it again by hand: nobody keeps it.
"""

from __future__ import annotations

import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path
from typing import Any

from tests.config.started import free_port
from tests.faults.house import House
from tests.faults.small_disk import fill, make_room, mount, small_disk, unmount

DISK_MB = 64


class Laptop(House):
    name = "laptop"
    has_keeper = False

    def __init__(self, folder: Path, **env: str) -> None:
        (folder / "data").mkdir(mode=0o700)
        #: Why it has no disk of its own; empty when it has one.
        self.no_disk = small_disk(folder / "data", DISK_MB)
        self._port = free_port()
        super().__init__(
            folder,
            DJANGO_SETTINGS_MODULE="tests.faults.laptop_settings",
            HELMROOM_PORT=str(self._port),
            HELMROOM_BIND="127.0.0.1",
            HELMROOM_BROKER="embedded",
            **env,
        )
        self.env.pop("DATABASE_URL", None)
        self.settle()
        self.manage("warm")
        self.serve("start", self.start_command)

    @property
    def start_command(self) -> list[str]:
        return [sys.executable, "manage.py", "start", "--no-demo"]

    @property
    def port(self) -> int:
        return self._port

    def rows(self, question: str) -> list[tuple[Any, ...]]:
        where = f"file:{self.data}/helmroom.sqlite3?mode=ro"
        with closing(sqlite3.connect(where, uri=True, timeout=30)) as database:
            return database.execute(question).fetchall()

    def start_again(self) -> None:
        self.services["start"].start()

    def fill_disk(self) -> None:
        """To the last byte, after the write-ahead log was emptied: else SQLite goes on for megabytes in what it has of it."""
        with closing(sqlite3.connect(self.data / "helmroom.sqlite3", timeout=30)) as database:
            database.execute("pragma wal_checkpoint(truncate)")
        fill(self.data)

    def free_disk(self) -> None:
        make_room(self.data)

    def make_readonly(self) -> None:
        """Whoever opens a file anew gets it read-only, root too: the folder is mounted over itself."""
        why = mount("--bind", self.data, self.data) or mount("-o", "remount,bind,ro", self.data)
        assert not why, why

    def make_writable(self) -> None:
        subprocess.run(["umount", "--lazy", self.data], check=True)

    def close(self) -> None:
        super().close()
        if not self.no_disk:
            unmount(self.data)
