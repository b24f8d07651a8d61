"""The addresses of the term, its sessions and its calendar."""

from __future__ import annotations

from django.urls import path

from missions.term.views import after, end, term

urlpatterns = [
    path("term/", term.term, name="term"),
    path("term/new/", term.term_new, name="term_new"),
    path("term/end/", end.term_end, name="term_end"),
    path("term/calendar/", term.calendar_link, name="calendar_link"),
    path("term/<int:pk>/", term.term, name="term_of"),
    path("term/<int:pk>/edit/", term.term_edit, name="term_edit"),
    path("term/<int:pk>/plan/", term.session_plan, name="session_plan"),
    path("term/<int:pk>/pictures/", term.term_progress, name="term_progress"),
    path("term/<int:pk>/session/", term.session_new, name="session_new"),
    path("session/<int:pk>/edit/", term.session_edit, name="session_edit"),
    path("session/<int:pk>/after/", after.session_after, name="session_after"),
    path("session/<int:pk>/after/take-over/", after.session_take_over, name="session_take_over"),
    path("session/<int:pk>/cancel/", term.session_cancel, name="session_cancel"),
    path("calendar/<str:token>.ics", term.term_calendar, name="term_calendar"),
]
