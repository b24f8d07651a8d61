"""A new coach's first evening, done by hand in headless Chromium beside the demonstration club: counted, timed, with pictures.

    python -m docs.first_evening             docs/first-evening.md and its pictures

In a fresh clone without an environment, as whoever just came has it; nothing of yours is touched.
"""

from __future__ import annotations

import os
import re
import signal
import socket
import subprocess
import tempfile
import threading
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from docs.pictures import FLAGS, ROOT, Visitor, chromium_path
from tests.browser.first_evening import CLUB, EMAIL, Part, first_evening
from tests.browser.hands import Count, Hands

DOCS = ROOT / "docs"
#: The keystroke-level model: S. K. Card, T. P. Moran, A. Newell, "The keystroke-level model for user performance time with
#: interactive systems", Communications of the ACM 23 (1980) 396-410. The figures are from memory: a letter by somebody who
#: is no typist, pointing, a button down and up, a hand going between keys and mouse, a moment to think.
LETTER_S, POINT_S, BUTTON_S, HAND_S, THINK_S = 0.28, 1.1, 0.2, 0.4, 1.35
PRESS_S = THINK_S + POINT_S + BUTTON_S
#: In the last line that `make run` prints for a newcomer.
SIGN_INS = "    family   "
#: The planner, just installed, is compiled for the first time meanwhile; a page says so until it can answer.
PLANNER_S = 300
#: Pixels of a picture at most; what lies below is cut off.
TALLEST = 900
#: Typed into the terminal: two commands.
TYPED = ("make run", f'.venv/bin/python manage.py open_club "{CLUB}" {EMAIL}')


def hands_take_s(count: Count) -> float:
    """By the model: each press is thought of, pointed at and pressed; each box too, and hands go to the keys and back."""
    return count.presses * PRESS_S + count.boxes * (PRESS_S + 2 * HAND_S) + count.letters * LETTER_S


def counted(parts: Sequence[Part]) -> list[str]:
    """The rows of the table."""
    rows = [(part.words, part.count) for part in parts]
    rows.append(("**All of it**", sum((part.count for part in parts), Count())))
    return [
        f"| {words} | {count.presses} | {count.boxes} | {count.letters} | {hands_take_s(count):.0f} s |"
        for words, count in rows
    ]


def made_of(parts: Sequence[Part], machine_s: float, start_s: float) -> list[tuple[str, float]]:
    """What the evening takes, in seconds."""
    typed = len("".join(TYPED)) * LETTER_S + len(TYPED) * THINK_S
    hands = hands_take_s(sum((part.count for part in parts), Count()))
    return [
        ("`make run`, until it prints its sign-ins", start_s),
        ("hands at the terminal, by the model", typed),
        ("hands at the pages, by the model", hands),
        ("what the pages and the planner took", machine_s),
    ]


PAGE = """# The first evening

From `make run` to the first logged run of a club of one's own, by hand in a real browser: `make first-evening` opens an empty
club beside the demonstration, goes the whole way by what the pages show, counts each press and letter, takes these pictures and
writes this page. `tests/browser/test_first_evening.py` goes the same way and fails when a count below is no longer true.

| Part | Presses | Boxes | Letters | Hands, by the model |
|---|---|---|---|---|
{rows}

The letters hold a sheet of names that is pasted in practice. Hands by the keystroke-level model (Card, Moran and Newell, 1980;
its figures from memory): {letter:.2f} s a letter, {press:.2f} s a press, thinking of it included.

| What it takes | Time |
|---|---|
{times}
| **together** | **{together}** |

`make run` is that of a fresh clone without an environment. Not in it: reading the pages, and driving the robot five times straight
with the tape beside it. Whoever measures the robot another day gets to the first run all the same: its courses have the kit's
numbers until then.

The first page of an empty club says what to do in which order:

![The first steps](first-steps.png)

The first mission comes with a table, a base and a target that can be moved:

![A mission just made](first-mission.png)

The board after the first run:

![The board after one run](first-board.png)
"""


@contextmanager
def newcomers_site() -> Iterator[tuple[Path, str, float]]:
    """`make run` in a fresh clone without an environment: where it lies, its address, and how long the sign-ins took."""
    with tempfile.TemporaryDirectory(prefix="helmroom-newcomer-") as folder, socket.socket() as probe:
        clone = Path(folder) / "helmroom"
        subprocess.run(["git", "clone", "--quiet", str(ROOT), str(clone)], check=True)
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
        probe.close()
        began = time.monotonic()
        env = {name: value for name, value in os.environ.items() if not name.startswith(("HELMROOM_", "VIRTUAL_ENV"))}
        house = subprocess.Popen(
            ["make", "--no-print-directory", "run"],
            cwd=clone,
            env=env | {"HELMROOM_PORT": str(port)},
            stdout=subprocess.PIPE,
            text=True,
            start_new_session=True,
        )
        try:
            assert house.stdout is not None
            said = iter(house.stdout.readline, "")
            if not any(SIGN_INS in line for line in said):
                raise SystemExit("make run ended before it printed its sign-ins.")
            took_s = time.monotonic() - began
            threading.Thread(target=lambda: list(said), daemon=True).start()  # a pipe that nobody reads fills up
            yield clone, f"http://127.0.0.1:{port}", took_s
        finally:
            os.killpg(house.pid, signal.SIGTERM)
            house.wait(60)


def open_own_club(clone: Path, address: str) -> str:
    """The path of the link that the command prints."""
    command = [".venv/bin/python", "manage.py", "open_club", CLUB, EMAIL, "--address", address]
    said = subprocess.run(command, cwd=clone, check=True, capture_output=True, text=True).stdout
    found = re.search(r"/join/\S+", said)
    if not found:
        raise SystemExit(f"The command printed no link: {said}")
    return found.group()


def spend_evening(browser: Any, address: str, link: str) -> tuple[list[Part], float]:
    """The parts, and how long the pages and the planner took, hands taking no time."""
    visitors = (
        Visitor(browser, address, 1280, 800, dark=False),
        Visitor(browser, address, 820, 1180, dark=False, touch=True),
    )
    for visitor in visitors:
        visitor.page.set_default_timeout(1000 * PLANNER_S)
    coach, tablet = (Hands(visitor.page) for visitor in visitors)
    looking_s = 0.0

    def look(name: str, page: Any) -> None:
        nonlocal looking_s
        began = time.monotonic()
        page.wait_for_load_state("networkidle")
        height = min(TALLEST, page.evaluate("document.documentElement.scrollHeight"))
        clip = {"x": 0, "y": 0, "width": 1280, "height": height}
        page.screenshot(path=DOCS / f"{name}.png", full_page=True, clip=clip)
        looking_s += time.monotonic() - began

    began = time.monotonic()
    parts = first_evening(coach, tablet, link, look)
    return parts, time.monotonic() - began - looking_s


def main() -> None:
    from playwright.sync_api import sync_playwright

    with newcomers_site() as (clone, address, start_s), sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium_path(), args=FLAGS)
        parts, machine_s = spend_evening(browser, address, open_own_club(clone, address))
        browser.close()
    spans = made_of(parts, machine_s, start_s)
    page = PAGE.format(
        rows="\n".join(counted(parts)),
        letter=LETTER_S,
        press=PRESS_S,
        times="\n".join(f"| {words} | {seconds:.0f} s |" for words, seconds in spans),
        together=f"{sum(seconds for _, seconds in spans) / 60:.1f} minutes",
    )
    (DOCS / "first-evening.md").write_text(page)


if __name__ == "__main__":
    main()
