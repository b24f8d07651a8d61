"""The service worker's address."""

from __future__ import annotations

from django.urls import path

from classroom.site.service_worker import team_worker

urlpatterns = [
    path("team/worker.js", team_worker, name="team_worker"),
]
