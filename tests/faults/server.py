"""A server on loopback: gunicorn as ``deploy/helmroom-web.service`` starts it, a worker as its unit does, PostgreSQL, Redis.

The socket is held here, in systemd's place, and handed to gunicorn; a keeper starts what has ended. No proxy stands in front.
"""

from __future__ import annotations

import secrets
import shutil
import socket
import sys
from pathlib import Path
from typing import Any

import psycopg

from tests.faults.house import House
from tests.faults.own_servers import Postgres, Redis, postgres_programs

NAME = "club.example"


def why_no_server() -> str:
    """What is missing on this machine; empty when nothing is."""
    if not sys.platform.startswith("linux"):
        return "the server's programs are for Linux"
    lacks = [] if postgres_programs() else ["postgresql"]
    lacks += [] if shutil.which("redis-server") else ["redis-server"]
    return f"not installed: {', '.join(lacks)}" if lacks else ""


class Server(House):
    name = "server"

    def __init__(self, folder: Path, **env: str) -> None:
        self.postgres, self.redis = Postgres(folder / "postgres"), Redis(folder)
        self.postgres.start()
        self.redis.start()
        self._door = socket.create_server(("127.0.0.1", 0), backlog=512)
        super().__init__(
            folder,
            DJANGO_SETTINGS_MODULE="tests.faults.server_settings",
            DATABASE_URL=self.postgres.address,
            HELMROOM_BROKER=self.redis.address,
            HELMROOM_SECRET=secrets.token_urlsafe(50),
            HELMROOM_HOSTS=NAME,
            **env,
        )
        self.settle()
        self.manage("collectstatic", "--noinput", "--verbosity", "0")
        self.manage("warm")
        gunicorn = [sys.executable, "-m", "gunicorn", "config.wsgi", "--workers", "2", "--threads", "4"]
        bind = ["--graceful-timeout", "30", "--bind", f"fd://{self._door.fileno()}"]
        self.serve("web", [*gunicorn, *bind], (self._door.fileno(),))
        self.serve("work", self.work_command)

    @property
    def work_command(self) -> list[str]:
        return [sys.executable, "manage.py", "work", "--workers", "2"]

    @property
    def port(self) -> int:
        return int(self._door.getsockname()[1])

    @property
    def headers(self) -> dict[str, str]:
        return {"Host": NAME, "X-Forwarded-Proto": "https", "Referer": f"https://{NAME}/"}

    @property
    def cookie_prefix(self) -> str:
        return "__Host-"

    def rows(self, question: str) -> list[tuple[Any, ...]]:
        with psycopg.connect(self.postgres.address, connect_timeout=5) as line:
            return line.execute(question).fetchall()  # type: ignore[arg-type]

    def close(self) -> None:
        super().close()
        self.redis.stop()
        if self.postgres.is_up:
            self.postgres.stop("immediate")
        self.postgres.give_disk_back()
        self._door.close()
