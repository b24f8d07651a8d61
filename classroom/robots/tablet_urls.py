"""The tablet's addresses of the team's own robot."""

from __future__ import annotations

from django.urls import path

from classroom.robots.views import tablet_robot

urlpatterns = [
    path("team/robot/", tablet_robot.team_robot, name="team_robot"),
    path("team/robot/outline/", tablet_robot.team_robot_shape, name="team_robot_shape"),
    path("team/robot/<slug:kind>/", tablet_robot.team_calibrate, name="team_calibrate"),
]
