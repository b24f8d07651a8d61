"""The houses that are loaded: those of the faults, with as many clubs as are asked for and figures of what requests cost."""

from __future__ import annotations

import http.client
import json
import re
import secrets
from pathlib import Path
from typing import Any

from tests.faults.laptop import Laptop
from tests.faults.own_servers import tree_of
from tests.faults.server import Server

METRICS_TOKEN = secrets.token_urlsafe(24)
#: As a job waits by default; the faults' shorter one would end in the middle of a beat on a full machine.
LEASE_S = "15"
#: Of processor time, in place of planning.
JOB_S = 0.4


class Loaded:
    """What both houses say about themselves. ``people``: of each club its coach and tablets, with their sessions."""

    tablets, clubs = 0, 0
    club: Any
    services: dict[str, Any]

    @staticmethod
    def settings(folder: Path) -> dict[str, str]:
        together = folder / "counts"
        together.mkdir()
        return {
            "HELMROOM_METRICS_TOKEN": METRICS_TOKEN,
            "PROMETHEUS_MULTIPROC_DIR": str(together),
            "HELMROOM_JOB_LEASE_S": LEASE_S,
            "HELMROOM_JOB_SWEEP_S": "2",
            "FAULTS_JOB_S": str(JOB_S),
            "FAULTS_BUSY": "1",
        }

    def populate(self) -> list[dict[str, Any]]:
        told = self.python("-m", "tests.load.seed", str(self.tablets), str(self.clubs))  # type: ignore[attr-defined]
        people: list[dict[str, Any]] = json.loads(told.splitlines()[-1])
        return people

    def figures(self) -> dict[str, dict[str, float]]:
        """From /metrics: requests and processor seconds, by view."""
        line = http.client.HTTPConnection("127.0.0.1", self.port, timeout=30)  # type: ignore[attr-defined]
        line.request("GET", "/metrics/", headers={**self.headers, "Authorization": f"Bearer {METRICS_TOKEN}"})  # type: ignore[attr-defined]
        told = line.getresponse().read().decode()
        line.close()
        found: dict[str, dict[str, float]] = {}
        for name, view, number in re.findall(r'^(\w+_total)\{.*?view="([^"]*)".*?\} (\S+)$', told, re.MULTILINE):
            one = found.setdefault(view, {"requests": 0.0, "processor_s": 0.0})
            one["requests" if name == "helmroom_requests_total" else "processor_s"] += float(number)
        return found

    def processor_s(self) -> dict[str, float]:
        """Of each service with all that it has started."""
        used = {}
        for name, pid in self.pids().items():
            times = [process.cpu_times() for process in tree_of(pid)]
            used[name] = sum(one.user + one.system + one.children_user + one.children_system for one in times)
        return used

    def pids(self) -> dict[str, int]:
        return {name: service.pid for name, service in self.services.items()}


class LoadedServer(Loaded, Server):
    def __init__(self, folder: Path, tablets: int, clubs: int) -> None:
        self.tablets, self.clubs = tablets, clubs
        super().__init__(folder, **self.settings(folder))

    def pids(self) -> dict[str, int]:
        return {**super().pids(), "postgresql": self.postgres.pid, "redis": self.redis.pid}


class LoadedLaptop(Loaded, Laptop):
    def __init__(self, folder: Path, tablets: int, clubs: int) -> None:
        self.tablets, self.clubs = tablets, clubs
        super().__init__(folder, **self.settings(folder))
