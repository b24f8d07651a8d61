"""Clocks that jump, and a laptop that sleeps."""

from __future__ import annotations

import time
from typing import Any

import psutil

from tests.faults.fault import LAPTOP, SERVER, Told, fault
from tests.faults.house import JOB_S, LEASE_S, House
from tests.faults.killed import at_work
from tests.faults.people import People

HOUR_S = 3600


def jump(house: House, people: People, to_s: float) -> None:
    before = len(house.begun())
    people.ask_many(2)
    at_work(house, before)
    house.tell("clock_ahead_s", str(to_s))
    time.sleep(JOB_S + 1)


@fault(SERVER)
def jumps(house: Any, people: People) -> Told:
    """The server's clock jumps an hour ahead while jobs run, and later back again while others do."""
    jump(house, people, HOUR_S)
    jump(house, people, 0)
    return Told(none_unanswered=True)


@fault(LAPTOP)
def laptop_jumps(house: Any, people: People) -> Told:
    """The laptop's clock jumps an hour ahead while a job runs, and later back again while another does."""
    jump(house, people, HOUR_S)
    jump(house, people, 0)
    return Told(none_unanswered=True)


@fault(LAPTOP)
def set_right_after_power_cut(house: Any, people: People) -> Told:
    """The power goes while the clock is an hour ahead and a job runs; when the laptop is back its clock is right."""
    house.tell("clock_ahead_s", str(HOUR_S))
    before = len(house.begun())
    people.ask_many(2)
    at_work(house, before)
    house.services["start"].kill()
    house.tell("clock_ahead_s", "0")
    house.start_again()
    return Told()


@fault(LAPTOP)
def asleep(house: Any, people: People) -> Told:
    """The laptop sleeps for three leases while a job runs and one waits (SIGSTOP and SIGCONT of all its processes)."""
    before = len(house.begun())
    people.ask_many(2)
    worker = at_work(house, before)
    processes = house.everything()
    for process in processes:
        process.suspend()
    time.sleep(3 * LEASE_S)
    for process in reversed(processes):
        process.resume()
    time.sleep(1.0)
    alive = worker.is_running() and worker.status() != psutil.STATUS_ZOMBIE
    return Told(note="its worker lived on" if alive else "", wrong=[] if alive else ["the worker was ended for it"])
