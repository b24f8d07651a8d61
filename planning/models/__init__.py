from planning.models.courses import Course, Origin
from planning.models.jobs import Job, JobState

__all__ = ["Course", "Job", "JobState", "Origin"]
