from missions.models.attempts import Attempt, Cause, Guess
from missions.models.missions import Mission, MissionVersion, Tier, TierKind, TierVersion
from missions.models.progress import BarChange, ChangedPart, ChangeMark, Progress, ProgressChange, ProgressState
from missions.models.rota import QuickNote, RotaTurn, SessionRun, TeamDay, TeamJob
from missions.models.term import CalendarFeed, PlannedMission
from missions.models.trials import PlanTry

__all__ = [
    "Attempt",
    "BarChange",
    "CalendarFeed",
    "Cause",
    "ChangeMark",
    "ChangedPart",
    "Guess",
    "Mission",
    "MissionVersion",
    "PlanTry",
    "PlannedMission",
    "Progress",
    "ProgressChange",
    "ProgressState",
    "QuickNote",
    "RotaTurn",
    "SessionRun",
    "TeamDay",
    "TeamJob",
    "Tier",
    "TierKind",
    "TierVersion",
]
