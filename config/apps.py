from django.apps import AppConfig


class ConfigConfig(AppConfig):
    """The commands that start things; no models."""

    name = "config"
