"""The table, on the screen and as ``docs/faults.md``."""

from __future__ import annotations

import os
import platform
import subprocess
from collections.abc import Sequence
from datetime import date
from pathlib import Path

from tests.faults.fault import Row
from tests.faults.house import LEASE_S, ROOT

PAGE = ROOT / "docs" / "faults.md"
HEAD = ["Fault", "What is done", "Runs kept: lost, doubled", "Jobs: lost, not once", "Tablets saw", "The coach saw",
        "Words after, at most", "Well after", "Tracebacks", "Holds"]  # fmt: skip
MEASURED = "## Measured"


def cells(row: Row) -> list[str]:
    if row.not_run:
        return [row.fault.name, row.fault.sentence, *[""] * 7, f"not run: {row.not_run}"]
    counted = row.counted
    return [
        row.fault.name,
        row.fault.sentence + (f" ({row.note})" if row.note else ""),
        f"{counted.runs}: {counted.lost}, {counted.doubled}",
        f"{counted.jobs}: {counted.jobs_lost}, {counted.not_once}",
        row.tablet,
        row.coach,
        f"{row.slowest_words_s:.1f} s" if row.slowest_words_s else "none needed",
        f"{row.well_after_s:.1f} s",
        str(row.tracebacks),
        "yes" if not row.wrong else "no: " + "; ".join(dict.fromkeys(row.wrong)),
    ]


def said(row: Row) -> str:
    """For a screen."""
    name, sentence, *found, holds = cells(row)
    lines = [f"{name} ({row.fault.house}): {sentence}"]
    lines += [f"    {title}: {text}" for title, text in zip(HEAD[2:-1], found, strict=True) if text]
    return "\n".join([*lines, f"    holds: {holds}"])


def machine() -> str:
    memory = os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES") / 2**30
    return f"{os.cpu_count()} processors, {memory:.0f} GB, {platform.system()}, Python {platform.python_version()}"


def written(page: str, rows: list[Row], load: tuple[float, float], order: Sequence[str] = ()) -> str:
    """The page with these rows under its heading; what stands above is kept.

    With the names of all faults in their ``order`` the rows of others stay as they were measured, under their own line.
    """
    commit = subprocess.run(
        ["git", "rev-parse", "--short", "HEAD"], cwd=ROOT, capture_output=True, text=True
    ).stdout.strip()
    own = [row.fault.name for row in rows]
    only = f' ONLY="{" ".join(own)}"' if order else ""
    about = (
        f"`make faults{only}` on {date.today():%d %B %Y} at {commit}: {machine()}; the machine's load was {load[0]:.0f} when it "
        f"began and {load[1]:.0f} at its end. A lease lasted {LEASE_S:.0f} s."
    )
    above, _, before = page.partition(MEASURED)
    lines = {row.fault.name: _line(cells(row)) for row in rows}
    abouts = [about]
    if order:
        lines = {name: line for line in before.splitlines() if (name := line[2:].split(" ")[0]) in order} | lines
        lines = {name: lines[name] for name in order if name in lines}
        earlier = [line for line in before.splitlines() if line.startswith("`make faults") and only not in line]
        abouts = [*earlier, about]
    table = [_line(HEAD), _line(["---"] * len(HEAD)), *lines.values()]
    return above + "\n\n".join([MEASURED, *abouts, "\n".join(table)]) + "\n"


def _line(texts: list[str]) -> str:
    return "| " + " | ".join(text.replace("|", "\\|") for text in texts) + " |"


def write(rows: list[Row], load: tuple[float, float], order: Sequence[str] = (), page: Path = PAGE) -> None:
    page.write_text(written(page.read_text(), rows, load, order))
