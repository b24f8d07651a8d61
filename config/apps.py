from django.apps import AppConfig


class ConfigConfig(AppConfig):
    """The commands that start things; no models."""

    name = "config"

    def ready(self) -> None:
        import config.celery  # noqa: F401  shared tasks find their queue here
        from config.log_names import tell_log_names

        tell_log_names()
