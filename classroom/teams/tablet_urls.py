"""The tablet's addresses that belong to the classroom: its door, and the team's robot."""

from django.urls import path, re_path

from classroom.robots.views import tablet_robot
from classroom.site import service_worker as tablet_worker
from classroom.teams.views import tablet_sign_in as tablet_door

urlpatterns = [
    path("team/", tablet_door.team_sign_in, name="team_sign_in"),
    path("team/leave/", tablet_door.team_sign_out, name="team_sign_out"),
    path("open-tablet/", tablet_door.team_open, name="team_open"),
    path("team/worker.js", tablet_worker.team_worker, name="team_worker"),
    path("team/robot/", tablet_robot.team_robot, name="team_robot"),
    path("team/robot/outline/", tablet_robot.team_robot_shape, name="team_robot_shape"),
    path("team/robot/<slug:kind>/", tablet_robot.team_calibrate, name="team_calibrate"),
    re_path(r"^team/(?P<code>[A-Za-z0-9]{8})/$", tablet_door.team_sign_in, name="team_sign_in_code"),
]
