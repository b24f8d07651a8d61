from missions.models.attempts import Attempt, Cause
from missions.models.missions import Mission, MissionVersion, Tier, TierKind, TierVersion
from missions.models.progress import Progress, ProgressChange, ProgressState

__all__ = [
    "Attempt",
    "Cause",
    "Mission",
    "MissionVersion",
    "Progress",
    "ProgressChange",
    "ProgressState",
    "Tier",
    "TierKind",
    "TierVersion",
]
