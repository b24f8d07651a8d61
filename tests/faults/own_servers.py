"""A PostgreSQL and a Redis of our own, on loopback, that may be killed, stopped and hung."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
from contextlib import suppress
from pathlib import Path

import psutil

from tests.config.started import free_port
from tests.faults.small_disk import small_disk, unmount
from tests.patience import until
from tests.servers import answers


def postgres_programs() -> Path | None:
    """Where PostgreSQL's own programs are, on Debian outside of PATH; None where it is not installed."""
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb")) or [Path(shutil.which("initdb") or "/no")]
    return found[-1].parent if found[-1].exists() else None


class Postgres:
    """A cluster of its own. It refuses to be run by root, and is then run as its own user."""

    def __init__(self, folder: Path) -> None:
        programs = postgres_programs()
        assert programs is not None
        self._programs, self._data, self.port = programs, folder / "cluster", free_port()
        self._disk: Path | None = None
        self._user = "postgres" if os.geteuid() == 0 else None
        folder.mkdir()
        if self._user:
            shutil.chown(folder, self._user)
        self._run("initdb", "--pgdata", self._data, "--username", "postgres", "--auth", "trust")
        lines = [f"port = {self.port}", "listen_addresses = '127.0.0.1'", f"unix_socket_directories = '{folder}'"]
        with (self._data / "postgresql.conf").open("a") as settings:
            settings.write("\n".join(lines) + "\n")
        self.address = f"postgres://postgres@127.0.0.1:{self.port}/postgres"

    def start(self) -> None:
        self._run("pg_ctl", "--wait", "--pgdata", self._data, "--log", self._data / "log", "start")

    def stop(self, how: str = "fast") -> None:
        self._run("pg_ctl", "--wait", "--pgdata", self._data, "--mode", how, "stop")

    def kill(self) -> None:
        """As a power cut would."""
        end_tree(self.pid)

    def hang(self) -> None:
        """All its processes stand still; the kernel still takes connections for it, and what is sent over old ones."""
        for process in tree_of(self.pid):
            with suppress(psutil.NoSuchProcess):
                process.suspend()

    def go_on(self) -> None:
        for process in tree_of(self.pid):
            with suppress(psutil.NoSuchProcess):  # one that ends its work while the list is gone through is gone
                process.resume()

    def take_disk(self, megabytes: int) -> tuple[Path, str]:
        """A small disk for tables; where it is, and why there is none."""
        disk = self._data.parent / "small"
        disk.mkdir()
        why = small_disk(disk, megabytes)
        if not why:
            self._disk = disk
            if self._user:
                shutil.chown(disk, self._user)
        return disk, why

    def give_disk_back(self) -> None:
        if self._disk:
            unmount(self._disk)
        self._disk = None

    @property
    def pid(self) -> int:
        return int((self._data / "postmaster.pid").read_text().split()[0])

    @property
    def is_up(self) -> bool:
        return answers(self.address, self.port)

    def _run(self, program: str, *arguments: str | Path) -> None:
        done = subprocess.run(
            [self._programs / program, *arguments], user=self._user, cwd="/", stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL, stdin=subprocess.DEVNULL,
        )  # fmt: skip
        assert done.returncode == 0, f"{program} ended with {done.returncode}"


class Redis:
    """It keeps nothing on disk: whoever ends it empties it."""

    def __init__(self, folder: Path) -> None:
        self._folder, self.port = folder, free_port()
        self.address = f"redis://127.0.0.1:{self.port}/0"
        self._process: subprocess.Popen[bytes] | None = None

    def start(self) -> None:
        command = ["redis-server", "--port", str(self.port), "--bind", "127.0.0.1", "--save", "", "--dir", self._folder]
        self._process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stdin=subprocess.DEVNULL)
        until(lambda: answers(self.address, self.port), "Redis")

    @property
    def pid(self) -> int:
        assert self._process is not None
        return self._process.pid

    def hang(self) -> None:
        """The kernel still takes connections for it."""
        assert self._process is not None
        self._process.send_signal(signal.SIGSTOP)

    def go_on(self) -> None:
        assert self._process is not None
        self._process.send_signal(signal.SIGCONT)

    def stop(self) -> None:
        if self._process is not None:
            self._process.kill()
            self._process.wait()


def tree_of(pid: int) -> list[psutil.Process]:
    """A process and all below it, the parent first so that it can tell nobody."""
    try:
        parent = psutil.Process(pid)
        return [parent, *parent.children(recursive=True)]
    except psutil.NoSuchProcess:
        return []


def end_tree(pid: int) -> None:
    """kill -9 of all of them."""
    tree = tree_of(pid)
    for process in tree:
        try:
            process.kill()
        except psutil.NoSuchProcess:
            pass
    psutil.wait_procs(tree, timeout=10)
