"""The coach's addresses of courses."""

from __future__ import annotations

from django.urls import path

from planning.courses import views

urlpatterns = [
    path("teams/<int:team_id>/tiers/<int:tier_id>/course/", views.course_ask, name="course_ask"),
    path(
        "teams/<int:team_id>/tiers/<int:tier_id>/plans/<int:number>/", views.course_by_number, name="course_by_number"
    ),
    path("courses/<int:pk>/", views.course, name="course"),
    path("courses/<int:pk>/rehearsal/", views.course_rehearsal, name="course_rehearsal"),
    path("courses/<int:pk>/show/", views.course_show, name="course_show"),
    path("courses/<int:pk>/card/", views.course_card, name="course_card"),
    path("tiers/<int:tier_id>/cards/", views.tier_cards, name="tier_cards"),
]
