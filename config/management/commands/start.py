"""One command on a coach's laptop: web server and background worker in one process tree."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import threading
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError

from classroom.models import Club
from config.process.addresses import NoPortError, listen, network_address
from config.process.garbage import freeze_what_is_loaded
from config.process.lock import AlreadyRunningError, FolderLock
from config.process.supervisor import MANAGE, Supervisor
from config.process.warm import is_warm, warm_up_checks

THREADS = 4


class Command(BaseCommand):
    help = "Start helmroom: prepares the database and the planner where needed, then serves until Ctrl-C."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--no-demo", action="store_true", help="Leave an empty database empty.")

    def handle(self, *args: Any, **options: Any) -> None:
        lock = FolderLock(Path(settings.DATA_DIR))
        try:
            lock.take()
        except AlreadyRunningError as error:
            where = f" at {error.words}" if error.words else ""
            raise CommandError(
                f"helmroom is already running on this data{where}. Use that one, or end it with Ctrl-C first."
            ) from None
        try:
            self._prepare(demo=not options["no_demo"])
            self._serve(lock)
        finally:
            lock.release()

    def _prepare(self, *, demo: bool) -> None:
        Path(settings.STATIC_ROOT).mkdir(parents=True, exist_ok=True)
        call_command("migrate", verbosity=0, interactive=False)
        if demo and not Club.objects.exists():
            self._own_command("demo_club", "--if-empty")
        if not is_warm():
            self._own_command("warm")

    def _own_command(self, *arguments: str) -> None:
        """In a process of its own, so that what it imports does not stay in the server's memory. Nothing that the site
        cannot do without: when it fails, that is said and the site starts all the same.
        """
        if subprocess.run([sys.executable, str(MANAGE), *arguments]).returncode:
            self.stderr.write(f"“manage.py {' '.join(arguments)}” did not work; what it said is above.")

    def _serve(self, lock: FolderLock) -> None:
        from django.core.wsgi import get_wsgi_application  # late: the site is loaded once the data folder is ours
        from waitress.server import create_server  # late, as above

        host = os.environ.get("HELMROOM_BIND", "0.0.0.0")
        try:
            sock, moved = listen(host, _port_wanted())
        except NoPortError as error:
            raise CommandError(str(error)) from None
        port = sock.getsockname()[1]
        address = f"http://127.0.0.1:{port}/"
        lock.say(f"{address} (process {os.getpid()})")
        server = create_server(get_wsgi_application(), sockets=[sock], threads=THREADS, ident=None)
        signal.signal(signal.SIGTERM, lambda *_: sys.exit(0))
        signal.signal(signal.SIGINT, signal.default_int_handler)  # a shell starts what runs behind it deaf to Ctrl-C
        supervisor = Supervisor("solo")
        supervisor.start()
        freeze_what_is_loaded()
        threading.Timer(4.0, _load_the_rest).start()
        for line in self._greeting(address, port, host, moved):
            self.stdout.write(line)
        self.stdout.flush()
        try:
            server.run()  # ends on Ctrl-C and SIGTERM
        finally:
            server.close()
            supervisor.stop()
            self.stdout.write("\nhelmroom has ended. Its data is kept.")

    def _greeting(self, address: str, port: int, host: str, moved: str) -> list[str]:
        lines = ["", moved] if moved else [""]
        lines += ["helmroom is running. Ctrl-C ends it.", "", f"  On this computer   {address}"]
        network = network_address() if host == "0.0.0.0" else None
        if network:
            lines.append(f"  On the club's network, for tablets   http://{network}:{port}/team/")
        lines += _demo_lines(Path(settings.DATA_DIR) / "demo.json", address)
        return [*lines, ""]


def _load_the_rest() -> None:
    """What the first check of a team's course would wait for; the first page does not."""
    warm_up_checks()
    freeze_what_is_loaded()


def _demo_lines(path: Path, address: str) -> list[str]:
    """How to look round the invented club, as its maker wrote it down."""
    if not path.exists():
        return []
    demo = json.loads(path.read_text())
    lines = [
        "",
        "  The invented demonstration club:",
        f"    coach    {demo['coach_email']}  password  {demo['coach_password']}",
        f"    team     {demo['team']}  code  {demo['join_code']}  PIN  {demo['pin']}  at {address}team/",
    ]
    if demo.get("family_link"):
        link = demo["family_link"]
        lines.append(f"    family   {link if link.startswith('http') else address.rstrip('/') + link}")
    return lines


def _port_wanted() -> int | None:
    text = os.environ.get("HELMROOM_PORT", "")
    if not text:
        return None
    if not text.isdigit() or not 0 < int(text) < 65536:
        raise CommandError(f"HELMROOM_PORT is “{text}”; it must be a number from 1 to 65535.")
    return int(text)
