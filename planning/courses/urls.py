"""The coach's addresses of courses and jobs. The tablet's are beside it."""

from django.urls import path

from planning.courses import views as courses
from planning.jobs import views as jobs

urlpatterns = [
    path("teams/<int:team_id>/tiers/<int:tier_id>/course/", courses.course_ask, name="course_ask"),
    path(
        "teams/<int:team_id>/tiers/<int:tier_id>/plans/<int:number>/", courses.course_by_number, name="course_by_number"
    ),
    path("courses/<int:pk>/", courses.course, name="course"),
    path("courses/<int:pk>/show/", courses.course_show, name="course_show"),
    path("courses/<int:pk>/card/", courses.course_card, name="course_card"),
    path("tiers/<int:tier_id>/cards/", courses.tier_cards, name="tier_cards"),
    path("jobs/<int:pk>/", jobs.job, name="job"),
    path("jobs/<int:pk>/stop/", jobs.job_cancel, name="job_cancel"),
]
