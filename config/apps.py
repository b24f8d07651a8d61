"""The app that starts things, and the support pages in place of Django's own admin."""

from django.apps import AppConfig
from django.contrib.admin import apps as admin_apps


class SupportConfig(admin_apps.AdminConfig):
    """The support pages, behind the coaches' door."""

    default = False
    default_site = "config.support.site.SupportSite"


class ConfigConfig(AppConfig):
    """The commands that start things; no models."""

    name = "config"
    default = True

    def ready(self) -> None:
        import config.celery  # shared tasks find their queue here
        import config.process.missing  # what a server lacks
        import config.support.rows  # noqa: F401  what the support pages show; after what libraries registered
        from classroom.records.club_tables import offer_table  # models are there from here on
        from classroom.site.english import put_english_into_one
        from classroom.site.spoken import speak_as_pages_do  # the settings say which languages there are
        from config.log_names import tell_log_names
        from missions.runs.table import RUNS_TABLE  # what a lead coach may take along, beside the classroom's own

        speak_as_pages_do()
        put_english_into_one()
        tell_log_names()
        offer_table(RUNS_TABLE)
