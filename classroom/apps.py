from django.apps import AppConfig


class ClassroomConfig(AppConfig):
    name = "classroom"
    default_auto_field = "django.db.models.BigAutoField"
