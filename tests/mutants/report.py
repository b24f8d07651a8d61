"""What the runs found, as the page keeps it: a row for each module, each survivor with its reason."""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass, field
from pathlib import Path

from tests.mutants.targets import ROOT

BAR = 0.9
PAGE = ROOT / "docs" / "mutants.md"
REASONS = Path(__file__).with_name("reasons.toml")
TABLE, SURVIVORS, END = "<!-- table -->", "<!-- survivors -->", "<!-- end -->"
HEAD = "| module | changes | equivalent | noticed | of the rest | s |\n|---|---|---|---|---|---|"
ROW = re.compile(r"^\| `([^`]+)` \| (\d+) \|.*\| (\d+) \|$", re.M)
EQUIVALENT = "equivalent: "


@dataclass
class Result:
    """Of one module: how many changes were tried, in how much processor time, and the names of those that survive."""

    path: str
    made: int
    seconds: float = 0.0
    survivors: list[str] = field(default_factory=list)


def reasons() -> dict[tuple[str, str], str]:
    """Why a change survives, by module and name."""
    kept = tomllib.loads(REASONS.read_text())
    return {(path, name): why for path, changes in kept.items() for name, why in changes.items()}


def on_the_page(page: str) -> dict[str, Result]:
    """What the page says of each module."""
    table, _, listed = page.partition(SURVIVORS)
    found = {path: Result(path, int(made), float(s)) for path, made, s in ROW.findall(table)}
    path = ""
    for line in listed.splitlines():
        if heading := re.fullmatch(r"`([^`]+)`", line):
            path = heading[1]
        elif bullet := re.match(r"- `([^`]+)`: ", line):
            found[path].survivors.append(bullet[1])
    return found


class Report:
    """Results against the reasons that are written down."""

    def __init__(self, results: list[Result], why: dict[tuple[str, str], str]) -> None:
        self.results, self.why = results, why

    def _equivalent(self, one: Result) -> int:
        return sum(self.why.get((one.path, name), "").startswith(EQUIVALENT) for name in one.survivors)

    def _row(self, one: Result) -> str:
        equivalent = self._equivalent(one)
        noticed, rest = one.made - len(one.survivors), one.made - equivalent
        share = f"{100 * noticed / rest:.0f} %" if rest else "–"
        return f"| `{one.path}` | {one.made} | {equivalent} | {noticed} | {share} | {one.seconds:.0f} |"

    @property
    def share(self) -> float:
        """Noticed, of those that change anything."""
        rest = sum(one.made - self._equivalent(one) for one in self.results)
        return sum(one.made - len(one.survivors) for one in self.results) / rest if rest else 1.0

    @property
    def unexplained(self) -> list[str]:
        return [f"{r.path}: {name}" for r in self.results for name in r.survivors if (r.path, name) not in self.why]

    def holds(self) -> bool:
        return self.share >= BAR and not self.unexplained

    def table(self) -> str:
        """The rows and their sum."""
        made, equivalent = sum(one.made for one in self.results), sum(map(self._equivalent, self.results))
        noticed = made - sum(len(one.survivors) for one in self.results)
        total = (
            f"{made} changes in {len(self.results)} modules, {equivalent} of them equivalent, {noticed} noticed: "
            f"{100 * self.share:.1f} % of the rest, in {sum(one.seconds for one in self.results):.0f} s of processor time."
        )
        return "\n".join([HEAD, *map(self._row, self.results), "", total])

    def text(self) -> str:
        """For the terminal."""
        lines = [self.table()]
        if self.unexplained:
            lines += ["", "Survivors without a reason; write a test, or the reason into tests/mutants/reasons.toml:"]
            lines += self.unexplained
        return "\n".join(lines)

    def _listed(self) -> str:
        lines: list[str] = []
        for one in self.results:
            if one.survivors:
                lines += ["", f"`{one.path}`", ""]
            for name in one.survivors:
                why = self.why.get((one.path, name), "not yet looked at")
                lines.append(f"- `{name}`: {why[:1].upper()}{why[1:]}")
        return "\n".join(lines)

    def written(self, page: str) -> str:
        """The page with its two lists anew."""
        top, _, rest = page.partition(TABLE)
        between = rest.partition(END)[2].partition(SURVIVORS)[0]
        bottom = rest.partition(SURVIVORS)[2].partition(END)[2]
        lists = [TABLE, "\n", self.table(), "\n", END, between, SURVIVORS, "\n", self._listed(), "\n", END]
        return "".join([top, *lists, bottom])
