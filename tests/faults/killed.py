"""Processes that are killed, stopped, started anew or there twice."""

from __future__ import annotations

import subprocess
import time
from typing import Any

import psutil

from tests.faults.fault import LAPTOP, SERVER, Told, fault
from tests.faults.house import JOB_S, LEASE_S, ROOT, House
from tests.faults.people import People
from tests.patience import until


def at_work(house: House, begun_before: int) -> psutil.Process:
    """The process that has begun a work since."""
    line = until(lambda: house.begun()[begun_before:], "a job to begin")[0]
    return psutil.Process(line[3])


@fault(SERVER)
def worker_killed(house: Any, people: People) -> Told:
    """kill -9 of the worker that is at a job."""
    before = len(house.begun())
    people.ask_many(2)
    at_work(house, before).kill()
    return Told()


@fault(LAPTOP)
def laptop_worker_killed(house: Any, people: People) -> Told:
    """kill -9 of a laptop's worker that is at a job."""
    before = len(house.begun())
    people.ask_many(2)
    at_work(house, before).kill()
    return Told()


@fault(SERVER)
def web_killed(house: Any, people: People) -> Told:
    """kill -9 of web processes with eight requests on their way, until some were cut short, and then of their parent."""
    people.ask()
    web, cut = house.services["web"], 0
    for _ in range(10):
        before, threads = len(people.seen), people.all_at_once()
        time.sleep(0.1)
        for child in psutil.Process(web.pid).children():
            child.kill()
        for thread in threads:
            thread.join()
        cut += sum(not seen.status for seen in people.seen[before:])
        if cut:
            break
    web.kill()
    words = f"{cut} cut short; who comes until it is there again waits in the socket"
    return Told(note=words, wrong=[] if cut else ["no request was cut short"])


@fault(SERVER)
def all_killed(house: Any, people: People) -> Told:
    """kill -9 of everything: web, worker, Redis and PostgreSQL; systemd starts them again."""
    people.ask_many(3)
    for name in ("web", "work"):
        house.services[name].kill()
    house.redis.stop()
    house.postgres.kill()
    time.sleep(1.0)
    house.postgres.start()
    house.redis.start()
    return Told()


@fault(LAPTOP)
def power_cut(house: Any, people: People) -> Told:
    """kill -9 of everything on the laptop, with one job half done and two waiting; somebody starts it again."""
    before = len(house.begun())
    people.ask_many(3)
    at_work(house, before)
    house.services["start"].kill()
    time.sleep(1.0)
    house.start_again()
    return Told()


@fault(SERVER)
def poisoned_job(house: Any, people: People) -> Told:
    """A job that kills whoever does it, between two that do not."""
    team = house.club["teams"][-1]["team"]
    house.tell("poisoned", str(team))
    people.ask()
    poisoned = people.ask(team=team)
    people.ask()
    until(lambda: house.rows(f"select 1 from planning_job where id = {poisoned} and state = 'failed'"), "it to fail")
    house.untell("poisoned")
    ((tries, words),) = house.rows(f"select tries, error_words from planning_job where id = {poisoned}")
    return Told(note=f"it failed after {tries} tries: “{words.split('.')[0]}”", to_fail={poisoned: "worker_lost"})


@fault(LAPTOP)
def laptop_poisoned_job(house: Any, people: People) -> Told:
    """The same on a laptop, whose one worker it is."""
    return poisoned_job(house, people)


@fault(SERVER)
def late_result(house: Any, people: People) -> Told:
    """A worker hangs beyond its lease, another does its job, and the first comes with its result after all."""
    house.tell("deaf")
    before = len(house.begun())
    job = people.ask()
    late = at_work(house, before)
    late.suspend()
    until(lambda: house.rows(f"select 1 from planning_job where id = {job} and state = 'done'"), "the other to do it")
    late.resume()
    time.sleep(JOB_S + 1)  # it works on, deaf, and writes
    house.untell("deaf")
    ((token, tries),) = house.rows(f"select token, tries from planning_job where id = {job}")
    wrong = [] if (token, tries) == (2, 2) else [f"token {token} after {tries} tries"]
    return Told(note="the second's result stands, the first's was refused by its token", wrong=wrong)


@fault(SERVER)
def two_supervisors(house: Any, people: People) -> Told:
    """A second worker service on the same database and queue, and the first is killed while both are at work."""
    second = house.serve("work2", house.work_command)
    people.ask_many(6)
    time.sleep(2 * JOB_S)
    house.services["work"].kill()
    people.ask_many(2)
    time.sleep(LEASE_S)
    second.end()
    del house.services["work2"]
    return Told()


@fault(LAPTOP)
def second_start(house: Any, people: People) -> Told:
    """A second start on the same data folder."""
    people.ask()
    done = subprocess.run(house.start_command, cwd=ROOT, env=house.env, capture_output=True, text=True, timeout=120)
    words = done.stderr.strip().splitlines()[-1]
    wrong = [] if done.returncode and "already running" in words else [f"it said: {words}"]
    return Told(note=f"refused: “{words.split(' on this data')[0].removeprefix('CommandError: ')}…”", wrong=wrong)


@fault(SERVER)
def rolling_restart(house: Any, people: People) -> Told:
    """The web service ended and started anew, then reloaded, and the worker ended in the middle of a job; nobody may notice."""
    before = len(house.begun())
    people.ask_many(2)
    at_work(house, before)
    for name in ("work", "web"):
        house.services[name].end()
        house.services[name].start()
    time.sleep(3.0)
    old = {child.pid for child in psutil.Process(house.services["web"].pid).children()}
    house.services["web"].process.send_signal(1)  # SIGHUP, as systemctl reload sends it

    def all_new() -> bool:
        now = {child.pid for child in psutil.Process(house.services["web"].pid).children()}
        return len(now) == 2 and not now & old

    until(all_new, "the new web processes")
    return Told(none_unanswered=True)
