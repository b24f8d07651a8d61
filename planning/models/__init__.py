from planning.models.courses import Course, Origin, TeamAnswer
from planning.models.jobs import Job, JobState
from planning.models.surveys import TableSurvey

__all__ = ["Course", "Job", "JobState", "Origin", "TableSurvey", "TeamAnswer"]
