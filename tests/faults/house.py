"""What a house of either kind is: services in a folder of its own, somebody who keeps them running, and its rows."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import threading
import time
from pathlib import Path
from typing import Any

from tests.faults.own_servers import end_tree, tree_of

ROOT = Path(__file__).resolve().parent.parent.parent
TEAMS = 6
#: Short ones, so that the table takes minutes. By default a lease lasts 15 s, and the sweep goes each 2 s.
LEASE_S, SWEEP_S, JOB_S = 4.0, 0.5, 1.5
#: What deploy/*.service say between an end and the next start (RestartSec).
RESTART_S = 2.0


class Service:
    """One command of the house, and its process."""

    def __init__(
        self, name: str, command: list[str], env: dict[str, str], log: Path, fds: tuple[int, ...] = ()
    ) -> None:
        self.name, self.command, self.log = name, command, log
        self._env, self._fds = env, fds
        self.process: subprocess.Popen[bytes] | None = None
        self.kept = False
        self.start()

    def start(self) -> None:
        self.process = subprocess.Popen(
            self.command, cwd=ROOT, env=self._env, pass_fds=self._fds, start_new_session=True,
            stdin=subprocess.DEVNULL, stdout=self.log.open("ab"), stderr=subprocess.STDOUT,
        )  # fmt: skip
        self.kept = True

    @property
    def pid(self) -> int:
        assert self.process is not None
        return self.process.pid

    def is_over(self) -> bool:
        return self.process is not None and self.process.poll() is not None

    def kill(self) -> None:
        """kill -9 of it and of all that it has started."""
        end_tree(self.pid)

    def end(self) -> None:
        """In order, as ``systemctl stop`` ends it."""
        assert self.process is not None
        self.kept = False
        self.process.terminate()
        try:
            self.process.wait(40)
        except subprocess.TimeoutExpired:
            self.kill()


class House:
    """Its keeper starts a service again, ``RESTART_S`` after it has ended, as systemd does; nobody does so on a laptop."""

    name = ""
    has_keeper = True

    def __init__(self, folder: Path, **env: str) -> None:
        self.folder = folder
        self.data, self.control = folder / "data", folder / "control"
        self.control.mkdir()
        self.env = os.environ | {
            "HELMROOM_DATA": str(self.data),
            "HELMROOM_JOB_LEASE_S": str(LEASE_S),
            "HELMROOM_JOB_SWEEP_S": str(SWEEP_S),
            "NUMBA_CACHE_DIR": str(folder / "numba"),
            "FAULTS_CONTROL": str(self.control),
            "FAULTS_JOB_S": str(JOB_S),
            **env,
        }
        self.services: dict[str, Service] = {}
        self.club: Any = {}
        self._closing = threading.Event()
        self._keeper = threading.Thread(target=self._keep, daemon=True)

    # What each kind says for itself

    @property
    def port(self) -> int:
        raise NotImplementedError

    @property
    def headers(self) -> dict[str, str]:
        """What a proxy would add, if there is one."""
        return {}

    @property
    def cookie_prefix(self) -> str:
        return ""

    def rows(self, question: str) -> list[tuple[Any, ...]]:
        """Straight from the database, past the program's own code."""
        raise NotImplementedError

    def populate(self) -> Any:
        """Who is there, with their sessions."""
        return json.loads(self.python("-m", "tests.faults.seed", str(TEAMS)).splitlines()[-1])

    # What all do

    def serve(self, name: str, command: list[str], fds: tuple[int, ...] = ()) -> Service:
        service = Service(name, command, dict(self.env), self.folder / f"{name}.log", fds)
        self.services[name] = service
        return service

    def manage(self, *arguments: str) -> str:
        return self.python(str(ROOT / "manage.py"), *arguments)

    def python(self, *arguments: str) -> str:
        done = subprocess.run([sys.executable, *arguments], cwd=ROOT, env=self.env, capture_output=True, text=True)
        assert done.returncode == 0, f"{arguments}: {done.stderr[-2000:]}"
        return done.stdout

    def settle(self) -> None:
        """Tables and a club, before anything serves."""
        self.data.mkdir(exist_ok=True, mode=0o700)
        self.manage("migrate", "--verbosity", "0")
        self.club = self.populate()
        if self.has_keeper:
            self._keeper.start()

    def tell(self, name: str, words: str = "") -> None:
        """Into the control folder, whole."""
        part = self.control / f"{name}.part"
        part.write_text(words)
        part.replace(self.control / name)

    def untell(self, name: str) -> None:
        (self.control / name).unlink(missing_ok=True)

    def begun(self) -> list[list[Any]]:
        """Each beginning of a work: team, aim, alternatives, process."""
        diary = self.control / "diary"
        return [json.loads(line) for line in diary.read_text().splitlines()] if diary.exists() else []

    def tracebacks(self) -> int:
        return sum(log.read_text(errors="replace").count("Traceback (most recent") for log in self.folder.glob("*.log"))

    def everything(self) -> list[Any]:
        return [process for service in self.services.values() for process in tree_of(service.pid)]

    def close(self) -> None:
        self._closing.set()
        for service in self.services.values():
            service.kept = False
            service.kill()

    def _keep(self) -> None:
        while not self._closing.wait(0.1):
            for service in list(self.services.values()):
                if service.kept and service.is_over():
                    time.sleep(RESTART_S)
                    if service.kept and not self._closing.is_set():
                        service.start()
