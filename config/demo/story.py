"""Who is in the demonstration club and how each team's term has gone. Invented from end to end."""

from __future__ import annotations

from dataclasses import dataclass, field

from motion.chance.simulate import Manner
from motion.scene.records import Noise

#: How the demonstration robots scatter. Invented, of the size that a careful build has.
SCATTER = Noise(
    distance_scale_sd=0.003,
    start_position_sd_mm=4.0,
    start_heading_sd_deg=1.0,
    turn_sd_deg=1.2,
    drift_sd_deg_per_m=1.0,
    distance_sd_fraction=0.005,
)
#: A robot that is well cared for.
STEADY = Noise(
    distance_scale_sd=0.002,
    start_position_sd_mm=3.0,
    start_heading_sd_deg=0.6,
    turn_sd_deg=0.8,
    drift_sd_deg_per_m=0.6,
    distance_sd_fraction=0.003,
)
#: A robot that is thrown together, or a floor that is dusty: about twice that.
LOOSE = Noise(
    distance_scale_sd=0.01,
    start_position_sd_mm=9.0,
    start_heading_sd_deg=2.0,
    turn_sd_deg=2.4,
    drift_sd_deg_per_m=2.0,
    distance_sd_fraction=0.01,
)


@dataclass(frozen=True)
class Stint:
    """Runs of one team on one tier in one week's session."""

    week: int
    mission: str
    tier: int
    runs: int
    scatter: Noise = SCATTER


@dataclass(frozen=True)
class TeamStory:
    """A team's term. ``calibrated`` lists (week, kind); ``passed`` lists (week, mission, tier)."""

    name: str
    members: tuple[str, ...]
    robot: str
    manner: Manner
    calibrated: tuple[tuple[int, str], ...] = ()
    stints: tuple[Stint, ...] = ()
    passed: tuple[tuple[int, str, int], ...] = ()
    words: dict[str, tuple[str, str, str]] = field(default_factory=dict)


GATE, BELL, CRATE = "Tide gate", "Fog bell", "Causeway crate"

TEAMS = (
    TeamStory(
        "Curlew",
        ("Robin", "Wren", "Teal", "Fern"),
        "Kit 4",
        Manner(distance_scale=0.965, turn_scale=1.004, drift_deg_per_m=0.3),
        calibrated=((2, "straight"), (3, "spin"), (9, "straight")),
        stints=(
            Stint(1, GATE, 1, 4, LOOSE),
            Stint(2, GATE, 1, 3, LOOSE),
            Stint(3, GATE, 1, 5),
            Stint(4, GATE, 1, 6),
            Stint(5, GATE, 2, 4, LOOSE),
            Stint(6, BELL, 1, 5),
            Stint(7, GATE, 2, 5),
            Stint(8, BELL, 1, 4),
            Stint(9, GATE, 2, 6, STEADY),
            Stint(10, GATE, 2, 6, STEADY),
        ),
        passed=((4, GATE, 1), (8, BELL, 1)),
        words={
            "Robin": (
                "How to measure what one turn of a wheel really does, and to set the robot by it.",
                "Getting round the gravel bank with room to spare, every time.",
                "How did you find out that your robot drove three centimetres short?",
            )
        },
    ),
    TeamStory(
        "Plover",
        ("Linnet", "Ash", "Moss"),
        "Kit 2",
        Manner(distance_scale=1.003, drift_deg_per_m=5.0),
        calibrated=((5, "straight"),),
        stints=(
            Stint(2, GATE, 1, 3, LOOSE),
            Stint(4, GATE, 1, 4),
            Stint(7, GATE, 1, 4),
            Stint(9, GATE, 1, 4),
            Stint(10, GATE, 1, 3),
        ),
    ),
    TeamStory(
        "Avocet",
        ("Merle", "Sage", "Brook", "Finch"),
        "Kit 1",
        Manner(distance_scale=1.011, turn_scale=0.997),
        calibrated=((1, "straight"), (2, "spin"), (6, "straight"), (10, "straight")),
        stints=(
            Stint(1, GATE, 1, 5),
            Stint(2, GATE, 1, 6),
            Stint(3, GATE, 2, 6),
            Stint(4, GATE, 2, 6),
            Stint(5, BELL, 1, 6),
            Stint(6, BELL, 1, 5),
            Stint(7, BELL, 2, 6),
            Stint(8, CRATE, 1, 6),
            Stint(9, GATE, 3, 2, STEADY),
            Stint(10, GATE, 3, 3),
        ),
        passed=((2, GATE, 1), (5, GATE, 2), (6, BELL, 1)),
    ),
    TeamStory(
        "Dunlin",
        ("Lark", "Reed"),
        "Kit 6",
        Manner(distance_scale=0.988, turn_scale=1.01),
        stints=(Stint(10, GATE, 1, 2),),
    ),
    TeamStory(
        "Heron",
        ("Pip", "Hazel", "Rush", "Tansy"),
        "Kit 3",
        Manner(distance_scale=1.024, drift_deg_per_m=0.8),
        calibrated=((3, "straight"),),
        stints=(
            Stint(2, GATE, 1, 5, LOOSE),
            Stint(3, GATE, 1, 5, LOOSE),
            Stint(5, GATE, 1, 6),
            Stint(6, GATE, 1, 5),
            Stint(7, GATE, 1, 6),
            Stint(9, BELL, 1, 4),
            Stint(10, GATE, 2, 2),
        ),
        passed=((9, GATE, 1),),
    ),
    TeamStory(
        "Knot",
        ("Sorrel", "Jay", "Bryony"),
        "Kit 5",
        Manner(distance_scale=0.995, turn_scale=1.002),
        calibrated=((4, "straight"), (8, "spin")),
        stints=(
            Stint(3, GATE, 1, 4),
            Stint(4, GATE, 1, 5),
            Stint(6, GATE, 1, 5),
            Stint(7, BELL, 1, 3),
            Stint(8, GATE, 1, 4),
        ),
    ),
)
