"""Every address of the site. Each has a row in the access matrix (tests/test_access.py)."""

from django.contrib import admin
from django.urls import include, path

from config.process import health

handler400 = "classroom.site.error_pages.bad_request"
handler403 = "classroom.site.error_pages.not_allowed"
handler404 = "classroom.site.error_pages.not_found"
handler500 = "classroom.site.error_pages.broken"

urlpatterns = [
    path("health/", health.health, name="health"),
    path("ready/", health.ready, name="ready"),
    path("metrics/", health.metrics, name="metrics"),
    path("", include("classroom.site.urls")),
    path("", include("classroom.teams.tablet_urls")),
    path("", include("classroom.robots.tablet_urls")),
    path("", include("missions.runs.urls")),
    path("", include("planning.team.urls")),
    path("", include("classroom.robots.urls")),
    path("", include("classroom.teams.urls")),
    path("", include("classroom.people.urls")),
    path("", include("classroom.club.urls")),
    path("", include("classroom.club.marks.urls")),
    path("", include("classroom.records.urls")),
    path("", include("missions.readiness.urls")),
    path("", include("missions.ladder.urls")),
    path("", include("missions.editor.urls")),
    path("", include("missions.family.urls")),
    path("", include("missions.day.urls")),
    path("", include("missions.day.tablet_urls")),
    path("", include("missions.term.urls")),
    path("", include("planning.courses.urls")),
    path("", include("planning.jobs.urls")),
    path("", include("planning.preparing.urls")),
    path("", include("planning.feasibility.urls")),
    path("", include("planning.forecasts.urls")),
    path("account/", include("classroom.people.account_urls")),
    path("support/", admin.site.urls),
]
