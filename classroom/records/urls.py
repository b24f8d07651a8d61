"""The addresses of the club's paperwork, and of what a lead coach may take along."""

from __future__ import annotations

from django.urls import path

from classroom.records import data_views, views

urlpatterns = [
    path("privacy/", views.privacy, name="privacy"),
    path("privacy/children/", views.privacy_children, name="privacy_children"),
    path("privacy/impact/", views.privacy_impact, name="privacy_impact"),
    path("settings/data/", data_views.club_data, name="club_data"),
    path("settings/data/archive/", data_views.club_archive, name="club_archive"),
    path("settings/data/<slug:key>/", data_views.club_table, name="club_table"),
]
