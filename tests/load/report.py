"""What was seen, what it cost, and what of it is in the database."""

from __future__ import annotations

import os
from collections import Counter
from dataclasses import dataclass, field
from typing import Any

from benchmarks.figures import percentile
from tests.faults.house import House
from tests.faults.report import machine
from tests.load.crowd import Crowd


@dataclass(frozen=True)
class Cost:
    """Taken before and after: by view from /metrics, by service, and of the crowd itself. Seconds of processor time."""

    views: dict[str, dict[str, float]]
    services: dict[str, float]
    crowd_s: float

    @classmethod
    def now(cls, house: Any) -> Cost:
        mine = os.times()
        return cls(house.figures(), house.processor_s(), mine.user + mine.system)


@dataclass
class Report:
    title: str
    seconds: float
    took_s: dict[str, list[float]]
    wrong: Counter[str]
    sent: int
    kept: int
    lost: int
    doubled: int
    strange: int
    jobs: int
    jobs_done: int
    before: Cost
    after: Cost
    load: tuple[float, float] = (0.0, 0.0)
    falls_short: list[str] = field(default_factory=list)


def counted(house: House, crowd: Crowd, title: str, seconds: float, before: Cost, after: Cost) -> Report:
    """``kept`` are runs that the site answered "kept"; ``strange`` rows that nobody here has sent."""
    seen = crowd.seen
    keys = Counter(
        str(row[0]).replace("-", "")
        for row in house.rows("select uuid from missions_attempt where tablet_id is not null")
    )
    kept, sent = ({key.replace("-", "") for key in keys_} for keys_ in (seen.kept, seen.sent))
    jobs = dict.fromkeys(seen.jobs)
    done = house.rows("select id from planning_job where state = 'done'") if jobs else []
    report = Report(
        title, seconds, dict(seen.took_s), Counter(seen.wrong), len(sent), len(kept), len(kept - set(keys)),
        sum(number - 1 for number in keys.values()), len(set(keys) - sent), len(jobs),
        len(jobs.keys() & {row[0] for row in done}), before, after,
    )  # fmt: skip
    wrong = {
        "lost": report.lost,
        "doubled": report.doubled,
        "of nobody": report.strange,
        "wrong answers": len(seen.wrong),
    }
    report.falls_short = [f"{number} {name}" for name, number in wrong.items() if number]
    report.falls_short += [] if kept else ["no run was kept"]
    report.falls_short += [f"{report.jobs - report.jobs_done} jobs not done"] if report.jobs_done < report.jobs else []
    return report


def told(report: Report, most_s: float | None) -> str:
    """For the screen, and as it stands in docs/load.md."""
    answers = sum(len(each) for each in report.took_s.values())
    everything = [one for each in report.took_s.values() for one in each]
    if most_s is not None and everything and percentile(everything, 0.95) > most_s:
        report.falls_short.append(f"p95 {percentile(everything, 0.95):.2f} s, over {most_s:.1f} s")
    lines = [
        f"{report.title}, {report.seconds:.0f} s. {machine()}; the machine's load was {report.load[0]:.0f} before and {report.load[1]:.0f} after.",
        "",
        f"{answers} answers, {answers / report.seconds:.0f} a second. Runs sent {report.sent}, answered “kept” {report.kept}: lost {report.lost}, "
        f"doubled {report.doubled}. Jobs asked for {report.jobs}, done {report.jobs_done}. Wrong: {_in_words(report.wrong)}.",
        "",
        "| Request | Number | p50 | p95 | p99 |",
        "|---|---|---|---|---|",
    ]
    for kind, took in [*sorted(report.took_s.items()), ("all", everything)]:
        if took:
            times = " | ".join(f"{percentile(took, share) * 1000:.0f} ms" for share in (0.5, 0.95, 0.99))
            lines.append(f"| {kind} | {len(took)} | {times} |")
    lines += ["", "| View | Requests | Processor time each |", "|---|---|---|"]
    for view, (requests, seconds) in sorted(_spent(report).items(), key=lambda item: -item[1][1]):
        lines.append(f"| {view} | {requests:.0f} | {1000 * seconds / requests:.1f} ms |")
    before, after = report.before, report.after
    used = {name: now - before.services.get(name, 0.0) for name, now in after.services.items()}
    used["the crowd itself"] = after.crowd_s - before.crowd_s
    parts = ", ".join(f"{name} {seconds:.1f} s" for name, seconds in used.items())
    lines += ["", f"Processor time in {report.seconds:.0f} s: {parts}."]
    lines += ["", "It holds." if not report.falls_short else f"It falls short: {'; '.join(report.falls_short)}."]
    return "\n".join(lines)


def _spent(report: Report) -> dict[str, tuple[float, float]]:
    """Requests and processor seconds of each view, in between."""
    found = {}
    for view, now in report.after.views.items():
        then = report.before.views.get(view, {"requests": 0.0, "processor_s": 0.0})
        requests = now["requests"] - then["requests"]
        if requests and view != "metrics":
            found[view] = (requests, now["processor_s"] - then["processor_s"])
    return found


def _in_words(wrong: Counter[str]) -> str:
    return ", ".join(f"{number} × {what}" for what, number in wrong.most_common(8)) or "nothing"
