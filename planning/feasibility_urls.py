from django.urls import path

from planning.views import feasibility

urlpatterns = [
    path("missions/<int:pk>/publish/", feasibility.mission_publish, name="mission_publish"),
    path("missions/<int:pk>/can-it-be-done/", feasibility.feasibility_panel, name="feasibility_panel"),
    path("missions/<int:pk>/can-it-be-done/look/", feasibility.feasibility_look, name="feasibility_look"),
]
