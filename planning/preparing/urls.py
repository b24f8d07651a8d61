from django.urls import path

from planning.preparing import views

urlpatterns = [
    path("preparing/", views.preparing, name="preparing"),
]
