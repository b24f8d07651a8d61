"""The coach's addresses of missions and their set-up sheets."""

from __future__ import annotations

from django.urls import path

from missions.ladder.views import missions, setup_sheet

urlpatterns = [
    path("missions/", missions.missions, name="missions"),
    path("missions/<int:mission_id>/", missions.mission, name="mission"),
    path("mission/<int:pk>/setup/", setup_sheet.setup_sheets, name="setup_sheets"),
]
