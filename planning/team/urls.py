"""The tablet's pages that need a course or a map: the mission, the course, the log of runs."""

from __future__ import annotations

from django.urls import path

from planning.team.picture import run_views as run_picture
from planning.team.picture import views as picture
from planning.team.views import course, experiment, log, mission, news, rehearsal, survey

urlpatterns = [
    path("team/mission/", mission.team_mission, name="team_mission"),
    path("team/changed/", mission.team_changed, name="team_changed"),
    path("team/news/", news.team_news, name="team_news"),
    path("team/go/", news.team_go, name="team_go"),
    path("team/log/", log.team_log, name="team_log"),
    path("team/log/<uuid:uuid>/", log.team_run, name="team_run"),
    path("team/log/<uuid:uuid>/change/", log.team_run_change, name="team_run_change"),
    path("team/log/<uuid:uuid>/withdraw/", log.team_run_withdraw, name="team_run_withdraw"),
    path("team/log/<uuid:uuid>/again/", log.team_run_again, name="team_run_again"),
    path("team/log/<uuid:uuid>/guess/", experiment.team_run_guess, name="team_run_guess"),
    path("team/log/<uuid:uuid>/numbers/", experiment.team_try_numbers, name="team_try_numbers"),
    path("team/try/<uuid:uuid>/end/", experiment.team_trial_end, name="team_trial_end"),
    path("team/course/", course.team_course, name="team_course"),
    path("team/survey/", survey.team_survey, name="team_survey"),
    path("team/picture/", picture.team_picture, name="team_picture"),
    path("team/picture/stopped/", picture.team_stopped, name="team_stopped"),
    path("team/picture/robot/<slug:kind>/", run_picture.team_run_picture, name="team_run_picture"),
    path("picture/measure/<int:pk>/<slug:kind>/", run_picture.robot_run_picture, name="robot_run_picture"),
    path("picture/tiers/<int:pk>/", picture.tier_picture, name="tier_picture"),
    path("team/course/compare/", course.team_compare, name="team_compare"),
    path("team/course/rehearsal/", rehearsal.team_draft_rehearsal, name="team_draft_rehearsal"),
    path("team/course/<int:pk>/", course.team_plan, name="team_plan"),
    path("team/course/<int:pk>/answer/", news.team_answer, name="team_answer"),
    path("team/course/<int:pk>/rehearsal/", rehearsal.team_rehearsal, name="team_rehearsal"),
]
