"""Trouble with what carries messages: Redis on a server, files on a laptop."""

from __future__ import annotations

import time
from typing import Any

import redis

from tests.faults.fault import LAPTOP, SERVER, Told, fault, machine_load
from tests.faults.house import JOB_S, House
from tests.faults.killed import at_work
from tests.faults.people import People

#: So long the queue may hold up who asks, beside what the page itself takes.
ASKING_S = 0.5


def coach_without_queue(house: House, people: People) -> Told:
    """Sign in, and ask: against what asking takes when all is well."""
    began = time.monotonic()
    people.ask()
    took_s = time.monotonic() - began
    came_in = people.sign_in()
    wrong = [] if came_in.status == 302 else [f"a coach who signs in gets {came_in.status}"]
    if took_s > (ASKING_S + 1.0) * machine_load():
        wrong.append(f"asking took {took_s:.1f} s")
    words = f"meanwhile a coach signed in ({came_in.took_s:.1f} s) and asked for a course ({took_s:.1f} s)"
    return Told(note=words, wrong=wrong, none_unanswered=True)


@fault(SERVER)
def redis_stopped(house: Any, people: People) -> Told:
    """Redis is ended, with what was in it, and comes back 6 s later."""
    people.ask_many(2)
    house.redis.stop()
    told = coach_without_queue(house, people)
    time.sleep(6.0)
    house.redis.start()
    return told


@fault(SERVER)
def redis_hung(house: Any, people: People) -> Told:
    """Redis takes connections and answers none for 12 s (SIGSTOP)."""
    people.ask_many(2)
    house.redis.hang()
    told = coach_without_queue(house, people)
    time.sleep(12.0)
    house.redis.go_on()
    return told


@fault(SERVER)
def redis_flushed(house: Any, people: People) -> Told:
    """All that is in Redis is deleted while jobs run and wait."""
    before = len(house.begun())
    people.ask_many(5)
    at_work(house, before)
    redis.Redis.from_url(house.redis.address).flushall()
    return Told(none_unanswered=True)


@fault(LAPTOP)
def torn_files(house: Any, people: People) -> Told:
    """Every file of the laptop's queue is cut short and the list of its queues is garbage, and its worker is killed."""
    before = len(house.begun())
    people.ask_many(4)
    worker = at_work(house, before)
    folder = house.data / "broker"
    torn = 0
    for file in [path for path in folder.rglob("*") if path.is_file()]:
        try:
            text = file.read_bytes()
            file.write_bytes(text[: len(text) // 2] if file.parent == folder else b"\0{torn")
            torn += 1
        except FileNotFoundError:
            continue  # the worker took it just now
    worker.kill()
    time.sleep(JOB_S)
    return Told(note=f"{torn} files torn", wrong=[] if torn > 1 else ["nothing was there to be torn"])
