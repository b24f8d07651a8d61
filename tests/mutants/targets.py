"""Which modules decide something, and which tests are their own."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent.parent

MODULES = (
    "motion/chance/error.py",
    "motion/search/rounding.py",
    "motion/calibration/diagnosis.py",
    "motion/calibration/diagnosis_causes.py",
    "motion/calibration/diagnosis_sentences.py",
    "motion/calibration/diagnosis_weights.py",
    "motion/calibration/diagnosis_words.py",
    "missions/readiness/rules/*.py",
    "*/access.py",
    "classroom/families/share_summary.py",
    "*/*/services/*.py",
)
#: Sentences are what these make: they are changed too, not only codes.
WORDS = (
    "motion/calibration/diagnosis.py",
    "motion/calibration/diagnosis_sentences.py",
    "motion/calibration/diagnosis_words.py",
    "missions/readiness/rules/answer.py",
    "missions/readiness/rules/needs.py",
    "missions/readiness/rules/rule_words.py",
    "missions/readiness/rules/standing.py",
)
#: Tests that stand elsewhere than beside the module in the mirrored tree.
ELSEWHERE = {
    "classroom/families/share_summary.py": ("tests/classroom/families",),
    "missions/ladder/services/edit_mission.py": ("tests/missions/ladder", "tests/missions/editor"),
    "missions/readiness/rules/answer.py": (
        "tests/missions/readiness/test_answer.py",
        "tests/missions/readiness/test_answer_sentences.py",
        "tests/missions/readiness/test_stuck.py",
    ),
    "missions/term/services/plan_phases.py": ("tests/missions/day/test_phases.py",),
    "planning/courses/services/check_kept.py": ("tests/planning/preparing/test_waiting.py",),
    "classroom/club/services/*.py": ("tests/classroom/club", "tests/config/test_open_club.py"),
}


@dataclass(frozen=True)
class Target:
    """A module, named by its path, with its source as loaded and the folders or files of its own tests."""

    path: str
    tests: tuple[str, ...]
    source: str

    @property
    def module(self) -> str:
        return self.path.removesuffix(".py").replace("/", ".")

    @property
    def words(self) -> bool:
        return self.path in WORDS


def targets() -> list[Target]:
    """All of them, in the order of ``MODULES``."""
    paths = [path for pattern in MODULES for path in sorted(ROOT.glob(pattern))]
    named = [str(path.relative_to(ROOT)) for path in paths if path.name != "__init__.py"]
    return [Target(path, tests_of(path), (ROOT / path).read_text()) for path in dict.fromkeys(named)]


def tests_of(path: str) -> tuple[str, ...]:
    """A module of motion and a rule have a test file of their name; a service has the tests of its feature."""
    for pattern, tests in ELSEWHERE.items():
        if Path(path).match(pattern):
            return tests
    app, *rooms, name = path.split("/")
    rooms = [room for room in rooms if room not in ("rules", "services")]
    beside = "/".join(["tests", app, *rooms])
    own = sorted(ROOT.glob(f"{beside}/test_{name.removesuffix('.py')}*.py"))
    if "services" in path.split("/") or not own:
        return (beside,)
    return tuple(str(one.relative_to(ROOT)) for one in own)
