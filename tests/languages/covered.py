"""The rooms whose words are all translatable. A room that is done is put here, and stays."""

#: Templates: files, or folders with a slash.
TEMPLATES = (
    "components/languages.html",
    "components/series.html",
    "classroom/records/children_page.html",
    "classroom/records/copy_part.html",
    "classroom/records/privacy_page.html",
    "classroom/records/records_base.html",
    "error.html",
    "missions/family/door_page.html",
    "missions/family/family_base.html",
    "missions/family/link_over_page.html",
    "missions/family/no_mail_page.html",
    "missions/family/summary_page.html",
)
#: Modules in which no word for people stands outside a mark.
MODULES = (
    "classroom/records/kept.py",
    "classroom/records/pages.py",
    "classroom/site/error_pages.py",
    "classroom/site/figures.py",
    "classroom/site/tags.py",
    "missions/family/drafts.py",
    "missions/family/own_jobs.py",
    "missions/family/pages.py",
    "missions/family/sentences.py",
)
