"""Pictures of the real site with the demonstration club in headless Chromium.

    python -m docs.pictures             the pictures of the README, into docs/

A server of its own on a data folder of its own; nothing of yours is touched.
"""

from __future__ import annotations

import json
import os
import re
import shutil
import socket
import subprocess
import sys
import tempfile
import time
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from types import SimpleNamespace
from typing import Any

from classroom.club.marks.numbers import BLOCK
from tests.oracles.club_picture import rendered_club_picture

ROOT = Path(__file__).resolve().parent.parent
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
]
WIDTHS = {1280: 800, 820: 1180, 360: 740}


@contextmanager
def running_site() -> Iterator[tuple[str, dict[str, str]]]:
    """A whole helmroom with the demonstration club; gives its address, its sign-ins and where its data is."""
    with tempfile.TemporaryDirectory(prefix="helmroom-pictures-") as data:
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            port = probe.getsockname()[1]
        env = os.environ | {"HELMROOM_DATA": data, "HELMROOM_PORT": str(port)}
        manage = [sys.executable, str(ROOT / "manage.py")]
        subprocess.run([*manage, "migrate", "-v0"], env=env, check=True)
        subprocess.run([*manage, "warm"], env=env, check=True)  # no picture shows how the planner gets ready
        subprocess.run([*manage, "demo_club", "--if-empty"], env=env, check=True)
        keys = json.loads((Path(data) / "demo.json").read_text())
        server = subprocess.Popen([*manage, "start"], env=env, stdout=subprocess.DEVNULL)
        try:
            address = f"http://127.0.0.1:{port}"
            _wait_for(address)
            _wait_for(f"{address}/preparing/", status=204)
            yield address, keys | {"data": data}
        finally:
            server.terminate()
            server.wait(20)


def _wait_for(address: str, status: int = 200) -> None:
    for _ in range(2400):  # a busy machine starts slowly; only what never comes fails
        try:
            with urllib.request.urlopen(address, timeout=2) as answer:
                if answer.status == status:
                    return
        except OSError:
            pass
        time.sleep(0.25)
    raise SystemExit("The site did not come up.")


class Visitor:
    """Somebody in a browser of their own."""

    def __init__(self, browser: Any, address: str, width: int, height: int, dark: bool, touch: bool = False) -> None:
        self.context = browser.new_context(
            base_url=address,
            viewport={"width": width, "height": height},
            color_scheme="dark" if dark else "light",
            has_touch=touch,
        )
        self.page = self.context.new_page()

    def sign_in_coach(self, keys: dict[str, str]) -> Visitor:
        self.page.goto("/account/sign-in/")
        self.page.fill("input[name=login]", keys["coach_email"])
        self.page.fill("input[name=password]", keys["coach_password"])
        self.page.click("main button[type=submit], main form button")
        self.page.wait_for_url(re.compile(r"/$|/readiness/"))
        return self

    def sign_in_team(self, keys: dict[str, str]) -> Visitor:
        self.page.goto("/team/")
        self.page.fill("input[name=code]", keys["join_code"])
        self.page.fill("input[name=pin]", keys["pin"])
        self.page.click("main form button")
        self.page.wait_for_url("**/team/*/")
        return self

    def sign_in_family(self, keys: dict[str, str]) -> Visitor:
        self.page.goto(keys["family_link"])
        self.page.click("main form button")
        self.page.wait_for_url("**/family/")
        return self

    def shoot(self, path: str | None, to: Path, full: bool = True) -> None:
        if path is not None:
            self.page.goto(path)
        self.page.wait_for_load_state("networkidle")
        self.page.screenshot(path=to, full_page=full)


def first_link(page: Any, pattern: str) -> str | None:
    """The first address on the page that matches."""
    for link in page.eval_on_selector_all("a[href]", "els => els.map(e => e.getAttribute('href'))"):
        if re.fullmatch(pattern, link):
            return str(link)
    return None


def ask_for_course(visitor: Visitor) -> None:
    """From a mission's page to a finished course card."""
    page = visitor.page
    page.goto("/missions/")
    page.goto(first_link(page, r"/missions/\d+/") or "/missions/")
    page.goto(first_link(page, r"/teams/\d+/tiers/\d+/course/") or "/missions/")
    page.click("main form button[type=submit], main form button")
    page.wait_for_selector(".chart-line", state="attached", timeout=90_000)


def measure_table(tablet: Visitor, coach: Visitor) -> None:
    """From a tablet's page to its table measured: by a rendered picture, in which one thing is pushed a little."""
    coach.page.goto("/picture/sheets/?set=1")
    number = int(re.findall(r"mark (\d+)", coach.page.inner_text(".a4 h2"))[0])
    tablet.page.goto("/team/picture/")
    table = json.loads(tablet.page.get_attribute("#picture-check", "data-table") or "")
    things = [thing["outline"] for thing in table["things"] if thing["kind"] != "base"]
    things[0] = [(x - 25, y + 10) for x, y in things[0]]
    taken = rendered_club_picture(
        SimpleNamespace(pk=number // BLOCK),
        things=things,
        table_mm=(table["width"], table["depth"]),
        size_px=(2400, 1800),
    )
    tablet.page.set_input_files("#picture", {"name": "a.jpg", "mimeType": "image/jpeg", "buffer": taken.data})
    tablet.page.click("#picture-check button")
    tablet.page.wait_for_selector("#picture-found:not([hidden])", timeout=90_000)


def for_readme(browser: Any, address: str, keys: dict[str, str], folder: Path) -> None:
    coach = Visitor(browser, address, 1280, 800, dark=False).sign_in_coach(keys)
    coach.shoot("/", folder / "board.png")
    coach.page.goto("/missions/")
    coach.shoot(first_link(coach.page, r"/missions/\d+/"), folder / "mission.png")
    ask_for_course(coach)
    coach.shoot(None, folder / "course.png")
    team = Visitor(browser, address, 1180, 820, dark=False, touch=True).sign_in_team(keys)
    team.shoot("/team/log/", folder / "log.png")
    measure_table(team, coach)
    team.page.locator("#picture-found").screenshot(path=folder / "table.png")
    family = Visitor(browser, address, 420, 900, dark=False).sign_in_family(keys)
    family.shoot(None, folder / "family.png")
    for language, name in {"Español": "family-es.png", "Deutsch": "family-de.png"}.items():
        family.page.get_by_role("button", name=language).click()
        family.page.get_by_role("button", name=language).wait_for(state="detached")
        family.shoot(None, folder / name)


def chromium_path() -> str:
    chromium = os.environ.get("HELMROOM_CHROMIUM") or shutil.which("chromium")
    if not chromium:
        raise SystemExit("This needs Debian's chromium: apt-get install chromium")
    return chromium


def main() -> None:
    from playwright.sync_api import sync_playwright

    with running_site() as (address, keys), sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium_path(), args=FLAGS)
        for_readme(browser, address, keys, ROOT / "docs")
        browser.close()


if __name__ == "__main__":
    main()
