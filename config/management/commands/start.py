"""One command on a coach's laptop: web server and background worker in one process tree.

The site answers as soon as the database is there. The demonstration is made and the kernels are compiled beside it.
"""

from __future__ import annotations

import os
import threading
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError
from django.db import connection

from classroom.models import Club
from config.demo.half_made import begin_making, take_away_half_made
from config.demo.sign_ins import sign_in_lines
from config.process.addresses import NoPortError, listen, network_address
from config.process.chores import compiling_chore, demonstration_chore
from config.process.ending import AskedToEnd, end_on_signals
from config.process.garbage import freeze_what_is_loaded
from config.process.lock import AlreadyRunningError, FolderLock
from config.process.static_files import collect_static_files
from config.process.supervisor import Supervisor
from config.process.warm import warm_up_checks
from planning.preparing.kernels import are_compiled, loading_aside

THREADS = 4
#: So long the first pages have the processor to themselves.
FIRST_PAGES_S = 4.0
#: How often it is looked whether the kernels are compiled.
LOOK_S = 1.0


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
        asked_to_end = end_on_signals()
        try:
            self._prepare(demo=not options["no_demo"])
            self._serve(lock, asked_to_end)
        except KeyboardInterrupt:
            self.stdout.write("\nhelmroom has ended. Its data is kept.")
        finally:
            lock.release()

    def _prepare(self, *, demo: bool) -> None:
        call_command("migrate", verbosity=0, interactive=False)
        collect_static_files()
        was_begun = take_away_half_made()
        if demo and (was_begun or not Club.objects.exists()):
            begin_making()

    def _serve(self, lock: FolderLock, asked_to_end: AskedToEnd) -> None:
        from django.core.wsgi import get_wsgi_application  # late: the site is loaded once the data folder is ours

        from config.process.bodies import create_site_server, serve_until  # late, as above

        host = os.environ.get("HELMROOM_BIND", "0.0.0.0")
        try:
            sock, moved = listen(host, _port_wanted())
        except NoPortError as error:
            raise CommandError(str(error)) from None
        port = sock.getsockname()[1]
        address = f"http://127.0.0.1:{port}/"
        lock.say(f"{address} (process {os.getpid()})")
        server = create_site_server(get_wsgi_application(), sockets=[sock], threads=THREADS, ident=None)
        for line in self._greeting(address, port, host, moved):
            self.stdout.write(line)
        self.stdout.flush()
        copies = Path(settings.DATA_DIR) / "copies"
        supervisor = Supervisor("solo", chores=[demonstration_chore(), compiling_chore()], copies=copies)
        supervisor.start()
        freeze_what_is_loaded()
        loading_aside(True)
        ending = threading.Event()
        threading.Thread(target=_load_the_rest, args=[ending], name="loading", daemon=True).start()
        try:
            serve_until(server, asked_to_end)  # ends on Ctrl-C and SIGTERM
        finally:
            ending.set()
            server.close()
            supervisor.stop()
            self.stdout.write("\nhelmroom has ended. Its data is kept.")

    def _greeting(self, address: str, port: int, host: str, moved: str) -> list[str]:
        lines = ["", moved] if moved else [""]
        lines += ["helmroom is running. Ctrl-C ends it.", "", f"  On this computer   {address}"]
        network = network_address() if host == "0.0.0.0" else None
        if network:
            lines.append(f"  On the club's network, for tablets   http://{network}:{port}/team/")
        if connection.vendor == "sqlite":
            lines.append(f"  A copy of all data, each day for seven days, in   {Path(settings.DATA_DIR) / 'copies'}")
        return [*lines, *sign_in_lines(address), ""]


def _load_the_rest(ending: threading.Event) -> None:
    """What checking a team's course needs, once it is compiled. The first pages come before it."""
    if ending.wait(FIRST_PAGES_S):
        return
    while not are_compiled():
        if ending.wait(LOOK_S):
            return
    try:
        warm_up_checks()
    finally:
        loading_aside(False)
    freeze_what_is_loaded()


def _port_wanted() -> int | None:
    text = os.environ.get("HELMROOM_PORT", "")
    if not text:
        return None
    if not text.isdigit() or not 0 < int(text) < 65536:
        raise CommandError(f"HELMROOM_PORT is “{text}”; it must be a number from 1 to 65535.")
    return int(text)
