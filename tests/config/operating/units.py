"""In systemd's place: reads the units that the page has copied, holds their sockets, and starts what their lines say.

Of what systemd does it has what a start, a stop and a reload need: folders, settings, sockets, the word that a service is
ready, how it is ended. It does not change the user, shuts nothing in, and starts nothing by itself.
"""

from __future__ import annotations

import json
import re
import shlex
import shutil
import socket
import subprocess
import sys
import threading
from collections import defaultdict
from dataclasses import dataclass, field
from pathlib import Path

from tests.faults.own_servers import end_tree
from tests.patience import LONGEST_S

#: What systemd gives a service (systemd.exec(5), "Environment Variables Set or Propagated by the Service Manager").
SYSTEM_PATH = "/usr/local/sbin:/usr/local/bin:/usr/sbin:/usr/bin:/sbin:/bin"
#: Puts the socket where sd_listen_fds(3) looks for it, says so in the name of its own process, and becomes the service.
WITH_SOCKET = (
    "import os, sys; os.dup2(int(sys.argv[1]), 3); os.environ.update(LISTEN_FDS='1', LISTEN_PID=str(os.getpid())); "
    "os.execvp(sys.argv[2], sys.argv[2:])"
)
CLIENT = """#!{python} -SE
import json, socket, sys
line = socket.socket(socket.AF_UNIX)
line.connect({door!r})
line.sendall(json.dumps(sys.argv[1:]).encode() + b"\\n")
code, words = json.loads(line.makefile().readline())
sys.stderr.write(words)
sys.exit(code)
"""

Unit = dict[str, list[str]]


@dataclass
class Units:
    """``folder``: the machine; units lie in its etc/systemd/system."""

    folder: Path
    known: dict[str, Unit] = field(default_factory=dict)
    running: dict[str, subprocess.Popen[bytes]] = field(default_factory=dict)
    doors: dict[str, socket.socket] = field(default_factory=dict)

    def open(self, program: Path) -> None:
        """Make ``program`` the ``systemctl`` of this machine."""
        self._ear = socket.socket(socket.AF_UNIX)
        self._ear.bind(str(self.folder / "systemd"))
        self._ear.listen(8)
        program.write_text(CLIENT.format(python=sys.executable, door=str(self.folder / "systemd")))
        program.chmod(0o755)
        threading.Thread(target=self._hear, daemon=True).start()

    def close(self) -> None:
        self._ear.close()
        for process in self.running.values():
            end_tree(process.pid)
        for door in self.doors.values():
            door.close()

    def _hear(self) -> None:
        while True:
            try:
                line = self._ear.accept()[0]
            except OSError:
                return
            with line:
                try:
                    self.systemctl(*json.loads(line.makefile().readline()))
                    told = (0, "")
                except Exception as error:
                    told = (1, f"systemctl: {type(error).__name__}: {error}\n")
                line.sendall(json.dumps(told).encode() + b"\n")

    def systemctl(self, verb: str, *units: str) -> None:
        if verb == "daemon-reload":
            self.known = {
                path.name: read_unit(path.read_text()) for path in (self.folder / "etc/systemd/system").iterdir()
            }
            return
        if verb == "enable":
            assert units[0] == "--now", units
            verb, units = "start", units[1:]
        for unit in units:
            assert unit in self.known, f"Unit {unit} not found."
        if verb in ("stop", "restart"):
            for unit in units:
                self.stop(unit)
        for unit in units:
            if verb in ("start", "restart"):
                self.start(unit)
            elif verb == "reload":
                self._run(unit, "ExecReload", MAINPID=str(self.running[unit].pid))
            else:
                assert verb == "stop", verb

    def start(self, unit: str) -> None:
        lines = self.known[unit]
        for needed in words(lines["Requires"]):
            self.start(needed)
        if unit.endswith(".socket") and unit not in self.doors:
            self._open_door(unit)
        elif unit.endswith(".timer"):
            assert lines["OnCalendar"] and unit.replace(".timer", ".service") in self.known
        elif unit.endswith(".service") and not self.is_up(unit):
            self._start_service(unit)

    def stop(self, unit: str) -> None:
        """As KillMode=mixed says: the word goes to the main process alone, and what is left is killed in the end."""
        if unit in self.doors:
            self.doors.pop(unit).close()
        if unit in self.running:
            process = self.running.pop(unit)
            assert self.known[unit]["KillMode"] == ["mixed"]
            process.terminate()
            try:
                process.wait(LONGEST_S)
            finally:
                end_tree(process.pid)

    def is_up(self, unit: str) -> bool:
        return unit in self.running and self.running[unit].poll() is None

    def _open_door(self, unit: str) -> None:
        path = Path(self.known[unit]["ListenStream"][0])
        path.parent.mkdir(parents=True, exist_ok=True)
        path.unlink(missing_ok=True)
        door = socket.socket(socket.AF_UNIX)
        door.bind(str(path))
        path.chmod(int(self.known[unit]["SocketMode"][0], 8))
        door.listen(int(self.known[unit]["Backlog"][0]))
        self.doors[unit] = door

    def _start_service(self, unit: str) -> None:
        lines = self.known[unit]
        for name in words(lines["StateDirectory"]):
            (self.folder / "var/lib" / name).mkdir(mode=int(lines["StateDirectoryMode"][0], 8), exist_ok=True)
        for name in words(lines["RuntimeDirectory"]):
            shutil.rmtree(self.folder / "run" / name, ignore_errors=True)
            (self.folder / "run" / name).mkdir(mode=int(lines["RuntimeDirectoryMode"][0], 8))
        self._run(unit, "ExecStartPre")
        if lines["Type"] == ["oneshot"]:
            self._run(unit, "ExecStart")
            self._run(unit, "ExecStartPost")
            return
        (command,) = lines["ExecStart"]
        door = self.doors.get(unit.replace(".service", ".socket"))
        arguments, fds = split(command), ()
        if door:
            arguments = [sys.executable, "-SE", "-c", WITH_SOCKET, str(door.fileno()), *arguments]
            fds = (door.fileno(),)
        with self._ready_word(unit) as ear:
            self.running[unit] = subprocess.Popen(
                arguments, cwd=self._place(unit), env=self._settings(unit, NOTIFY_SOCKET=ear.getsockname() or ""),
                pass_fds=fds, start_new_session=True, umask=int(lines["UMask"][0], 8), stdin=subprocess.DEVNULL, stdout=self._log(unit),
                stderr=subprocess.STDOUT,
            )  # fmt: skip
            if lines["Type"] == ["notify"]:
                while b"READY=1" not in ear.recv(4096):
                    pass

    def _ready_word(self, unit: str) -> socket.socket:
        ear = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        ear.settimeout(LONGEST_S)
        path = self.folder / f"{unit}.ready"
        path.unlink(missing_ok=True)
        ear.bind(str(path))
        return ear

    def _run(self, unit: str, line: str, **more: str) -> None:
        for command in self.known[unit][line]:
            done = subprocess.run(
                split(command, **more), cwd=self._place(unit), env=self._settings(unit), stdout=self._log(unit),
                stderr=subprocess.STDOUT, stdin=subprocess.DEVNULL,
            )  # fmt: skip
            assert done.returncode == 0, f"{unit}: {command} ended with {done.returncode}: {self.said(unit)[-2000:]}"

    def said(self, unit: str) -> str:
        return (self.folder / f"{unit}.log").read_text(errors="replace")

    def _log(self, unit: str):  # type: ignore[no-untyped-def]
        return (self.folder / f"{unit}.log").open("ab")

    def _place(self, unit: str) -> Path:
        return Path(self.known[unit]["WorkingDirectory"][0]).resolve()

    def _settings(self, unit: str, **more: str) -> dict[str, str]:
        lines = self.known[unit]
        given = [
            line
            for file in lines["EnvironmentFile"]
            for line in Path(file).read_text().splitlines()
            if line and not line.startswith("#")
        ]
        return {"PATH": SYSTEM_PATH} | dict(line.split("=", 1) for line in [*given, *lines["Environment"]]) | more


def read_unit(text: str) -> Unit:
    """Values by name, whatever their section: no unit of ours has one name in two."""
    found: Unit = defaultdict(list)
    for name, value in re.findall(r"^(\w+)=(.*)$", text, re.MULTILINE):
        found[name].append(value)
    return found


def words(values: list[str]) -> list[str]:
    return [word for value in values for word in value.split()]


def split(command: str, **known: str) -> list[str]:
    """As systemd.service(5), "Command lines": %% and $$ stand for one, $NAME for what is known."""
    for name, value in known.items():
        command = command.replace(f"${name}", value)
    return [word.replace("%%", "%").replace("$$", "$") for word in shlex.split(command)]
