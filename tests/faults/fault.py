"""A fault is a function that does harm and undoes what nobody else would; it is tried under tablets and a coach at work."""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

from tests.faults.house import House
from tests.faults.ledger import Count, count
from tests.faults.people import People, Seen
from tests.patience import until

SERVER, LAPTOP = "server", "laptop"
#: In which they are written down.
GROUPS = ("killed", "queue", "database", "disk", "clock")
#: So long somebody waits at most to read that something is wrong, on a machine that does little else.
WORDS_S = 3.0
#: So long a disk is full, or may only be read.
LASTS_S = 8.0


@dataclass
class Told:
    """What a fault gives back beside what is counted."""

    #: What else was looked at, in words.
    note: str = ""
    #: What else was wrong.
    wrong: list[str] = field(default_factory=list)
    #: Jobs that are meant to fail, and the word that they then have.
    to_fail: dict[int, str] = field(default_factory=dict)
    #: Nobody may be left without an answer.
    none_unanswered: bool = False
    #: Everything wrong is said within ``WORDS_S``.
    words_in_time: bool = False


class NotRunHereError(Exception):
    """It cannot be tried on this machine; why."""


@dataclass(frozen=True)
class Fault:
    name: str
    house: str
    sentence: str
    harm: Callable[..., Told]


FAULTS: list[Fault] = []


def fault(house: str) -> Callable[[Callable[..., Told]], Callable[..., Told]]:
    """Enter a function ``harm(house, people)`` in the table. Its first sentence is the row's."""

    def enter(harm: Callable[..., Told]) -> Callable[..., Told]:
        group = harm.__module__.rsplit(".", 1)[-1]
        sentence = " ".join((harm.__doc__ or "").split("\n\n")[0].split())
        FAULTS.append(Fault(f"{group}.{harm.__name__}", house, sentence, harm))
        return harm

    return enter


def refused_meanwhile(people: People, seconds: float = LASTS_S) -> Told:
    """A fault that nobody notices is none."""
    before = len(people.seen)
    time.sleep(seconds)
    tablets = [seen.status for seen in people.seen[before:] if seen.who == "tablet"]
    return Told(wrong=[] if 503 in tablets else ["no tablet noticed"], words_in_time=True)


@dataclass
class Row:
    """One line of the table."""

    fault: Fault
    not_run: str = ""
    counted: Count = field(default_factory=Count)
    tablet: str = ""
    coach: str = ""
    slowest_words_s: float = 0.0
    well_after_s: float = 0.0
    tracebacks: int = 0
    note: str = ""
    wrong: list[str] = field(default_factory=list)


def machine_load() -> float:
    """How many times as long as alone each process takes now, where more wants to run than there are processors."""
    return max(1.0, os.getloadavg()[0] / (os.cpu_count() or 1))


def try_fault(one: Fault, house: House, questions: Iterator[tuple[int, int, str, int]]) -> Row:
    """Under people at work: harm, wait until all is well by itself, count.

    Raises
    ------
    AssertionError
        Something has not come for as long as anything may take; the house is of no more use.
    """
    people, before = People(house, questions), house.tracebacks()
    people.begin()
    began = time.monotonic()
    try:
        told = one.harm(house, people)
        mended = time.monotonic()
    except NotRunHereError as why:
        return Row(one, not_run=str(why))
    finally:
        people.go_home()
    until(people.send_the_rest, "the tablets' runs to be saved")
    until(people.coach_is_well, "the coach's page")
    until(lambda: not count(house, people, told.to_fail).unfinished, "the jobs to be over")
    row = Row(one, well_after_s=time.monotonic() - mended, note=told.note, wrong=list(told.wrong))
    row.counted, row.tracebacks = count(house, people, told.to_fail), house.tracebacks() - before
    during = [seen for seen in people.seen if seen.at >= began]
    row.tablet, row.coach = (said_to(who, during) for who in ("tablet", "coach"))
    amiss = [seen.took_s for seen in during if seen.status >= 400]
    row.slowest_words_s = max(amiss, default=0.0)
    row.wrong += row.counted.wrong()
    row.wrong += [f"a bare {seen.status} to the {seen.who}" for seen in during if seen.is_bare]
    row.wrong += [f"{seen.status} to the {seen.who}: {seen.words}" for seen in during if seen.status == 500]
    if told.none_unanswered and any(seen.status != 200 and seen.status != 302 for seen in during):
        row.wrong.append("somebody was not served")
    if told.words_in_time and row.slowest_words_s > WORDS_S * machine_load():
        row.wrong.append(f"words after {row.slowest_words_s:.1f} s")
    row.wrong += [f"refused: {reply}" for tablet in people.tablets for reply in tablet.refused]
    return row


def said_to(who: str, seen: list[Seen]) -> str:
    """Statuses and the words of what went wrong, each once."""
    own = [one for one in seen if one.who == who]
    parts = []
    for status in sorted({one.status for one in own}):
        alike = [one for one in own if one.status == status]
        words = sorted({one.words for one in alike if one.words}) if status >= 400 else []
        label = str(status) if status else "no answer"
        quoted = "".join(f" “{one.split('.')[0]}”" for one in words)
        parts.append(f"{len(alike)} × {label}{quoted} (to {max(one.took_s for one in alike):.1f} s)")
    return ", ".join(parts)
