"""The coach's addresses of robots, their calibrations and spares."""

from __future__ import annotations

from django.urls import path

from classroom.robots.views import calibrations, robots, spares

urlpatterns = [
    path("robots/", robots.robots, name="robots"),
    path("robots/new/", robots.robot_new, name="robot_new"),
    path("robots/outline/", robots.outline_preview, name="robot_outline"),
    path("robots/spares/", spares.spares, name="spares"),
    path("robots/spares/<int:pk>/", spares.spare, name="spare"),
    path("robots/spares/<int:pk>/came-in/", spares.spare_came_in, name="spare_came_in"),
    path("robots/spares/<int:pk>/retire/", spares.spare_retire, name="spare_retire"),
    path("robots/<int:pk>/", robots.robot, name="robot"),
    path("robots/<int:pk>/edit/", robots.robot_edit, name="robot_edit"),
    path("robots/<int:pk>/team/", robots.robot_assign, name="robot_assign"),
    path("robots/<int:pk>/state/", robots.robot_state, name="robot_state"),
    path("robots/<int:pk>/notes/", robots.robot_note, name="robot_note"),
    path("robots/notes/<int:pk>/done/", robots.service_note_done, name="service_note_done"),
    path("robots/<int:pk>/measure/<slug:kind>/", calibrations.calibrate, name="calibrate"),
    path("calibrations/<int:pk>/", calibrations.calibration, name="calibration"),
]
