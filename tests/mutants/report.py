"""What a run found, in words: a row for each module, each survivor with its reason or as not yet looked at."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from pathlib import Path

from tests.mutants.run import Tried
from tests.mutants.targets import ROOT

BAR = 0.9
PAGE = ROOT / "docs" / "mutants.md"
REASONS = Path(__file__).with_name("reasons.toml")
TABLE, SURVIVORS, END = "<!-- table -->", "<!-- survivors -->", "<!-- end -->"
HEAD = "| module | changes | equivalent | noticed | of the rest |\n|---|---|---|---|---|"


@dataclass(frozen=True)
class Reason:
    """Why a change survives. An ``equivalent`` one changes nothing that could be noticed, and does not count."""

    why: str
    equivalent: bool


def reasons() -> dict[tuple[str, str], Reason]:
    """By module and name of the change."""
    kept = tomllib.loads(REASONS.read_text())
    return {
        (module, name): Reason(why.removeprefix("equivalent: "), why.startswith("equivalent: "))
        for module, changes in kept.items()
        for name, why in changes.items()
    }


class Report:
    """A run against the reasons that are written down."""

    def __init__(self, tried: list[Tried], used_s: float) -> None:
        self.tried, self.used_s, self.reasons = tried, used_s, reasons()

    def _equivalent(self, one: Tried) -> int:
        found = (self.reasons.get((one.target.path, change.name)) for change in one.survivors)
        return sum(reason is not None and reason.equivalent for reason in found)

    def _row(self, one: Tried) -> str:
        equivalent = self._equivalent(one)
        noticed, rest = one.made - len(one.survivors), one.made - equivalent
        share = f"{100 * noticed / rest:.0f} %" if rest else "–"
        return f"| `{one.target.path}` | {one.made} | {equivalent} | {noticed} | {share} |"

    @property
    def share(self) -> float:
        """Noticed, of those that change anything."""
        made = sum(one.made - self._equivalent(one) for one in self.tried)
        return sum(one.made - len(one.survivors) for one in self.tried) / made if made else 1.0

    @property
    def unexplained(self) -> list[str]:
        return [
            f"{one.target.path}: {change.name}"
            for one in self.tried
            for change in one.survivors
            if (one.target.path, change.name) not in self.reasons
        ]

    def holds(self) -> bool:
        return self.share >= BAR and not self.unexplained

    def text(self) -> str:
        """For the terminal."""
        lines = [HEAD, *(self._row(one) for one in self.tried), "", self._sum()]
        if self.unexplained:
            lines += ["", "Survivors without a reason; write a test, or the reason into tests/mutants/reasons.toml:"]
            lines += self.unexplained
        return "\n".join(lines)

    def _sum(self) -> str:
        made, equivalent = sum(one.made for one in self.tried), sum(map(self._equivalent, self.tried))
        noticed = made - sum(len(one.survivors) for one in self.tried)
        return (
            f"{made} changes in {len(self.tried)} modules, {equivalent} of them equivalent, {noticed} noticed: "
            f"{100 * self.share:.1f} % of the rest. {self.used_s:.0f} s of processor time."
        )

    def _survivor_lines(self) -> list[str]:
        lines = []
        for one in self.tried:
            if one.survivors:
                lines += ["", f"`{one.target.path}`", ""]
            for change in one.survivors:
                reason = self.reasons.get((one.target.path, change.name))
                kind = "" if reason is None else "Equivalent: " if reason.equivalent else ""
                lines.append(f"- `{change.name}`: {kind}{reason.why if reason else 'not yet looked at'}")
        return lines[1:]

    def write(self) -> None:
        """Put the table and the survivors of a whole run into the page."""
        before, _, rest = PAGE.read_text().partition(TABLE)
        between = rest.partition(SURVIVORS)[0].partition(END)[2]
        after = rest.partition(SURVIVORS)[2].partition(END)[2]
        table = "\n".join([HEAD, *(self._row(one) for one in self.tried), "", self._sum()])
        parts = [before, TABLE, "\n", table, "\n", END, between, SURVIVORS, "\n"]
        PAGE.write_text("".join([*parts, "\n".join(self._survivor_lines()), "\n", END, after]))
