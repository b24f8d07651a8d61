"""The rooms whose words are all translatable. A room that is done is put here, and stays."""

#: Templates: files, or folders with a slash.
TEMPLATES = (
    "components/languages.html",
    "components/series.html",
    "classroom/records/children_page.html",
    "classroom/records/copy_part.html",
    "classroom/records/privacy_page.html",
    "classroom/records/records_base.html",
    "classroom/site/",
    "classroom/teams/tablet_sign_in_page.html",
    "classroom/teams/tablet_sign_out_page.html",
    "error.html",
    "missions/family/door_page.html",
    "missions/family/family_base.html",
    "missions/family/link_over_page.html",
    "missions/family/no_mail_page.html",
    "missions/family/summary_page.html",
    "planning/team/before_part.html",
    "planning/team/clock_part.html",
    "planning/team/last_runs_part.html",
    "planning/team/log_page.html",
    "planning/team/next_change_part.html",
    "planning/team/pad_map_part.html",
    "planning/team/pad_part.html",
    "planning/team/trial_part.html",
)
#: Modules in which no word for people stands outside a mark.
MODULES = (
    "classroom/records/kept.py",
    "classroom/records/pages.py",
    "classroom/site/error_pages.py",
    "classroom/site/figures.py",
    "classroom/site/tags.py",
    "classroom/teams/tablet_forms.py",
    "missions/family/drafts.py",
    "missions/family/own_jobs.py",
    "missions/family/pages.py",
    "missions/family/sentences.py",
    "planning/team/pages/pad.py",
)
