from django.apps import AppConfig


class MissionsConfig(AppConfig):
    name = "missions"
    default_auto_field = "django.db.models.BigAutoField"
