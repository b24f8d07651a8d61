"""The addresses of the term, its sessions and its calendar."""

from __future__ import annotations

from django.urls import path

from missions.term import views

urlpatterns = [
    path("term/", views.term, name="term"),
    path("term/new/", views.term_new, name="term_new"),
    path("term/calendar/", views.calendar_link, name="calendar_link"),
    path("term/<int:pk>/", views.term, name="term_of"),
    path("term/<int:pk>/edit/", views.term_edit, name="term_edit"),
    path("term/<int:pk>/pictures/", views.term_progress, name="term_progress"),
    path("term/<int:pk>/session/", views.session_new, name="session_new"),
    path("session/<int:pk>/edit/", views.session_edit, name="session_edit"),
    path("session/<int:pk>/cancel/", views.session_cancel, name="session_cancel"),
    path("calendar/<str:token>.ics", views.term_calendar, name="term_calendar"),
]
