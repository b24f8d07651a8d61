"""The addresses of the club's settings and its log."""

from __future__ import annotations

from django.urls import path

from classroom.club import views

urlpatterns = [
    path("settings/", views.club_settings, name="club_settings"),
    path("settings/language/", views.own_language, name="own_language"),
    path("settings/clubs/<int:pk>/", views.club_switch, name="club_switch"),
    path("settings/clock/", views.club_clock, name="club_clock"),
    path("settings/log/", views.audit_log, name="audit_log"),
]
