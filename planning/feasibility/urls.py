"""The coach's addresses of whether a mission can be done, and of publishing it."""

from django.urls import path

from planning.feasibility.views import feasibility, obstacle_places, publish

urlpatterns = [
    path("missions/<int:pk>/publish/", publish.mission_publish, name="mission_publish"),
    path("missions/<int:pk>/can-it-be-done/", feasibility.feasibility_panel, name="feasibility_panel"),
    path("missions/<int:pk>/can-it-be-done/look/", feasibility.feasibility_look, name="feasibility_look"),
    path("missions/<int:pk>/obstacle-places/", obstacle_places.obstacle_places, name="obstacle_places"),
    path("missions/<int:pk>/obstacle-places/<int:job_pk>/", obstacle_places.obstacle_look, name="obstacle_look"),
]
