"""The three missions of the demonstration club. Invented; sizes in mm on a table of 2400 by 1200."""

from __future__ import annotations

from typing import Any

WINDOW = {"lateral_mm": 55, "heading_deg": 9, "short_mm": 35, "long_mm": 45}


def rectangle(x: float, y: float, width: float, depth: float) -> list[list[float]]:
    return [[x, y], [x + width, y], [x + width, y + depth], [x, y + depth]]


def criteria(done: str) -> list[dict[str, str]]:
    return [
        {"key": "left_base", "words": "Left the base by itself"},
        {"key": "done", "words": done},
        {"key": "home", "words": "Came back into the base"},
    ]


GRAVEL_BANK = {"name": "gravel bank", "outline": [[800, 420], [1120, 380], [1160, 700], [850, 740]]}
BREAKWATER = {"name": "breakwater", "outline": [[800, 430], [1160, 400], [1180, 700], [830, 720]]}
MOORING_POST = {"name": "mooring post", "outline": rectangle(1660, 560, 80, 80)}
OYSTER_RACK = {"name": "oyster rack", "outline": [[1000, 130], [1300, 130], [1300, 420], [1000, 420]]}
MUD = {"name": "soft mud", "outline": rectangle(600, 950, 500, 250)}

MISSIONS: list[dict[str, Any]] = [
    {
        "title": "Tide gate",
        "summary": "Shut the gate, come home",
        "brief": (
            "The tide is turning and the **tide gate** is still open. Send your robot out of the base, let it push the "
            "gate shut, and bring it back. Anywhere inside the base counts as home."
        ),
        "did_you_know": (
            "A tide gate lets a river out at low water and keeps the sea out at high water. Many of them need no motor: "
            "the water itself pushes them shut."
        ),
        "questions": [
            "What did you measure first, and why?",
            "If the robot lands too far left every time, what could be wrong?",
            "How would you find out whether it is the turn or the drive?",
        ],
        "setup_steps": [
            "Lay the mat flat and tape its corners down.",
            "Stand the gate on its mark, hinge towards the far edge.",
            "Check that the gate moves with one finger and stops by itself.",
            "Mark the robot's start with two strips of tape.",
        ],
        "safety_notes": "Keep fingers away from the gate's hinge while a robot is on its way.",
        "base": rectangle(0, 0, 520, 450),
        "start": {"x_mm": 120.0, "y_mm": 225.0, "heading_deg": 0.0},
        "target": {
            "name": "tide gate",
            "body": rectangle(1900, 520, 60, 300),
            "precontact": {"x_mm": 1670.0, "y_mm": 655.0, "heading_deg": 0.0},
            "gap_mm": 30.0,
            "push_mm": 60.0,
            "window": WINDOW,
        },
        "criteria": criteria("Gate is shut"),
        "tiers": [
            {"kind": "plain", "name": "Plain route"},
            {"kind": "obstacle", "name": "With obstacle", "obstacles": [GRAVEL_BANK]},
            {"kind": "timed", "name": "Timed", "obstacles": [GRAVEL_BANK], "time_limit_s": 26.0},
        ],
    },
    {
        "title": "Fog bell",
        "summary": "Push the bell's lever, come home",
        "brief": (
            "Fog is rolling in. Drive to the far side of the estuary, push the **bell's lever** until it rings, and "
            "come back to the base."
        ),
        "did_you_know": "In thick fog a bell can be heard long before a light can be seen.",
        "questions": [
            "Which leg is the longest? How far off can it end if the heading is one degree wrong?",
            "Does it help to turn in two small steps?",
        ],
        "setup_steps": [
            "Fix the bell's stand to the far edge with two clamps.",
            "Check that the lever springs back by itself.",
            "Mark the base with tape and write the team's name beside the start.",
        ],
        "safety_notes": "The clamps stand out over the edge: walk round that side, do not reach over it.",
        "base": rectangle(0, 300, 520, 520),
        "start": {"x_mm": 120.0, "y_mm": 560.0, "heading_deg": 0.0},
        "target": {
            "name": "bell lever",
            "body": rectangle(1340, 1080, 120, 50),
            "precontact": {"x_mm": 1415.0, "y_mm": 850.0, "heading_deg": 90.0},
            "gap_mm": 30.0,
            "push_mm": 50.0,
            "window": WINDOW,
        },
        "criteria": criteria("The bell rang"),
        "tiers": [
            {"kind": "plain", "name": "Plain route"},
            {"kind": "obstacle", "name": "With obstacle", "obstacles": [BREAKWATER]},
            {"kind": "timed", "name": "Timed", "obstacles": [BREAKWATER], "keep_outs": [MUD], "time_limit_s": 30.0},
        ],
    },
    {
        "title": "Causeway crate",
        "summary": "Push the crate past the line, come home",
        "brief": (
            "A crate has slid onto the causeway. Get **behind** it, push it back past the line towards the base, let go "
            "and come home without touching it again."
        ),
        "did_you_know": "Some causeways can be crossed only at low tide, twice a day, a little later every day.",
        "questions": [
            "Why is it harder to push towards yourself than away?",
            "What happens to the crate if the robot meets it off its middle?",
        ],
        "setup_steps": [
            "Put the crate on its cross with the flat side towards the far short edge.",
            "Draw the line with tape 12 cm from the crate, on the base's side.",
        ],
        "safety_notes": "Pick the crate up only when the robot has stopped.",
        "base": rectangle(0, 0, 560, 480),
        "start": {"x_mm": 120.0, "y_mm": 240.0, "heading_deg": 0.0},
        "target": {
            "name": "crate",
            "body": rectangle(1580, 240, 140, 140),
            "precontact": {"x_mm": 1950.0, "y_mm": 325.0, "heading_deg": 180.0},
            "gap_mm": 30.0,
            "push_mm": 120.0,
            "window": WINDOW,
        },
        "criteria": criteria("The crate is past the line"),
        "tiers": [
            {"kind": "plain", "name": "Plain route"},
            {"kind": "obstacle", "name": "With obstacle", "obstacles": [OYSTER_RACK, MOORING_POST]},
            {"kind": "timed", "name": "Timed", "obstacles": [OYSTER_RACK, MOORING_POST], "time_limit_s": 34.0},
        ],
    },
]
