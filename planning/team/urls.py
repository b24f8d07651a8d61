"""The tablet's pages that need a course or a map: the mission, the course, the log of runs."""

from django.urls import path

from planning.team.views import course as tablet_course
from planning.team.views import log as tablet_log
from planning.team.views import mission as tablet_mission
from planning.team.views import survey as tablet_survey

urlpatterns = [
    path("team/mission/", tablet_mission.team_mission, name="team_mission"),
    path("team/log/", tablet_log.team_log, name="team_log"),
    path("team/log/<uuid:uuid>/", tablet_log.team_run, name="team_run"),
    path("team/log/<uuid:uuid>/change/", tablet_log.team_run_change, name="team_run_change"),
    path("team/log/<uuid:uuid>/withdraw/", tablet_log.team_run_withdraw, name="team_run_withdraw"),
    path("team/log/<uuid:uuid>/again/", tablet_log.team_run_again, name="team_run_again"),
    path("team/course/", tablet_course.team_course, name="team_course"),
    path("team/survey/", tablet_survey.team_survey, name="team_survey"),
    path("team/course/compare/", tablet_course.team_compare, name="team_compare"),
    path("team/course/<int:pk>/", tablet_course.team_plan, name="team_plan"),
]
