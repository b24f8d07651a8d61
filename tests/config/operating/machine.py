"""A folder that stands for a fresh machine, and somebody who types what the page says, block after block.

What is another than on a real one:

- ``/etc``, ``/srv``, ``/var/lib`` and ``/run`` lie in the folder, in the page's commands and in the files that it hands out.
- Users: ``useradd`` does nothing, ``sudo`` empties the settings as the real one does and goes on as whoever runs the test,
  ``install`` sets no owner. What helmroom's user makes beside its own folders is refused, as ``/var/lib`` is root's.
- systemd: ``systemctl`` is ``tests/config/operating/units.py``.
- The environment: in place of an installation a link to the one of the test; pip then looks whether all that is locked is in it.
- PostgreSQL is reached by TCP, and its user and database have names of their own.
- Compiling takes minutes and has a stand-in. ``createsuperuser`` is given its answers.
"""

from __future__ import annotations

import importlib.util
import os
import re
import shutil
import subprocess
import sys
from dataclasses import dataclass, field
from pathlib import Path
from urllib.parse import urlsplit

from tests.config.operating.units import Units

ROOT = Path(__file__).resolve().parents[3]
PAGE = ROOT / "docs" / "operating.md"
ON_PAGE = re.compile(r"(?<![\w./])/(?=(?:var/lib/helmroom|etc/helmroom|etc/systemd|srv/helmroom|run/helmroom))")
BY_SOCKET = "postgres:////var/run/postgresql/helmroom"
USERADD = "#!/bin/sh\n"
SUDO = """#!/bin/sh
set -u
[ "$1" = -u ] || exit 64
user=$2; shift 2
if [ "$user" = postgres ]; then exec env {postgres} "$@"; fi
roots="{folder}/etc {folder}/etc/helmroom {folder}/srv {folder}/srv/helmroom {folder}/var/lib {folder}/run"
before=$(ls $roots)
env -i PATH="$PATH" HOME="{folder}/var/lib/helmroom" "$@"
code=$?
if [ "$before" != "$(ls $roots)" ]; then echo "sudo: $user may not write there" >&2; exit 77; fi
exit $code
"""
ADMIN = {"USERNAME": "support", "EMAIL": "support@club.example", "PASSWORD": "lantern-oyster-pontoon-quay"}


def blocks_of(page: str) -> dict[str, list[str]]:
    """Commands by heading: what is set in, without the depth by which it is."""
    found: dict[str, list[str]] = {}
    for part in re.split(r"^## ", page, flags=re.MULTILINE)[1:]:
        heading, _, text = part.partition("\n")
        blocks = re.findall(r"(?:^\n)((?: {4,}\S.*\n)+)", text, re.MULTILINE)
        found[heading] = [re.sub(r"^ +", "", block, flags=re.MULTILINE) for block in blocks]
    return found


class WentWrongError(Exception):
    """A command of the page ended with an error; what it said."""


@dataclass
class Machine:
    folder: Path
    postgres: str
    owner: str
    password: str
    blocks: dict[str, list[str]] = field(default_factory=lambda: blocks_of(PAGE.read_text()))
    done: list[tuple[str, int]] = field(default_factory=list)

    def __post_init__(self) -> None:
        for name in ("etc/systemd/system", "var/lib", "run", "srv", "bin", "root"):
            (self.folder / name).mkdir(parents=True)
        where = urlsplit(self.postgres)
        ways = {
            "PGHOST": where.hostname,
            "PGPORT": where.port or 5432,
            "PGUSER": where.username,
            "PGPASSWORD": where.password,
        }
        as_postgres = " ".join(f"{name}={value}" for name, value in ways.items() if value)
        self._program("useradd", USERADD)
        self._program("sudo", SUDO.format(folder=self.folder, postgres=as_postgres))
        self.units = Units(self.folder)
        self.units.open(self.folder / "bin" / "systemctl")
        self.database_url = (
            f"postgres://{self.owner}:{self.password}@{where.hostname}:{where.port or 5432}/{self.owner}"
        )

    def _program(self, name: str, text: str) -> None:
        (self.folder / "bin" / name).write_text(text)
        (self.folder / "bin" / name).chmod(0o755)

    def close(self) -> None:
        self.units.close()

    def put_code(self, name: str) -> Path:
        """The code as somebody would bring it; its hand-outs speak of this machine's folders."""
        place = self.folder / "srv/helmroom" / name
        listed = subprocess.run(
            ["git", "ls-files", "--cached", "--others", "--exclude-standard"],
            cwd=ROOT,
            capture_output=True,
            text=True,
            check=True,
        ).stdout
        for file in listed.splitlines():
            if file.startswith("docs/"):
                continue
            (place / file).parent.mkdir(parents=True, exist_ok=True)
            shutil.copy2(ROOT / file, place / file)
            compiled = Path(importlib.util.cache_from_source(file)) if file.endswith(".py") else None
            if compiled and (ROOT / compiled).exists():  # it costs each copy seconds, and says nothing
                (place / compiled).parent.mkdir(exist_ok=True)
                shutil.copy2(ROOT / compiled, place / compiled)
        for path in (place / "deploy").iterdir():
            path.write_text(self.here(path.read_text()))
        return place

    def here(self, text: str) -> str:
        text = text.replace(BY_SOCKET, getattr(self, "database_url", BY_SOCKET))
        text = ON_PAGE.sub(f"{self.folder}/", text)
        return text.replace("config.settings.server", "tests.config.operating.server_settings")

    def typed(self, block: str) -> str:
        """What is typed here in place of a block."""
        lines = []
        for line in block.splitlines():
            if line.startswith("sudo -u postgres"):
                line = re.sub(r"\bhelmroom\b", self.owner, line)
            if line.startswith("install "):
                line = re.sub(r"--(owner|group) \w+ ", "", line)
            line = line.replace("python3.11 -m venv .venv", f"ln --symbolic {sys.prefix} .venv")
            line = line.replace("pip install ", "pip install --disable-pip-version-check --no-index --dry-run --quiet ")
            if line.endswith("createsuperuser"):
                given = " ".join(f"DJANGO_SUPERUSER_{name}={value}" for name, value in ADMIN.items())
                line = line.replace("sudo -u helmroom ", f"sudo -u helmroom env {given} ") + " --noinput"
            lines.append(self.here(line))
        return "\n".join(lines)

    def follow(self, heading: str, *numbers: int, at: Path | None = None) -> str:
        """Type blocks of a section, all of them or these, in one shell that begins ``at`` a place; what they said.

        Raises
        ------
        WentWrongError
        """
        chosen = numbers or tuple(range(len(self.blocks[heading])))
        script = "\n".join(self.typed(self.blocks[heading][number]) for number in chosen)
        said = self.type(script, at=at)
        self.done += [(heading, number) for number in chosen]
        return said

    def type(self, script: str, at: Path | None = None) -> str:
        env = {"PATH": f"{self.folder / 'bin'}:{os.environ['PATH']}", "HOME": str(self.folder / "root")}
        ran = subprocess.run(
            ["sh", "-eu", "-c", script], cwd=at or self.folder / "root", env=env, capture_output=True, text=True,
            stdin=subprocess.DEVNULL,
        )  # fmt: skip
        if ran.returncode:
            raise WentWrongError(f"{script}\nended with {ran.returncode}:\n{ran.stdout[-1500:]}\n{ran.stderr[-3000:]}")
        return ran.stdout + ran.stderr

    def set(self, **values: str) -> None:
        """Edit the file of settings, as the page says to; each has its line, with "#" or without."""
        file = self.folder / "etc/helmroom/helmroom.env"
        text = file.read_text()
        for name, value in values.items():
            text, count = re.subn(rf"^#?{name}=.*$", f"{name}={value}", text, flags=re.MULTILINE)
            assert count == 1, name
        file.write_text(text)
