"""Families: the guardian's page and summary, and the coach's pages about them."""

from __future__ import annotations

from django.urls import path, re_path

from missions.family.views import families, letters, links, queue, records, summary

urlpatterns = [
    path("family/", summary.family, name="family"),
    path("family/language/", summary.family_language, name="family_language"),
    path("family/copy/", records.family_own_copy, name="family_own_copy"),
    re_path(r"^family/(?P<token>[A-Za-z0-9_-]{20,100})/$", summary.family_door, name="family_door"),
    re_path(r"^family/no-mail/(?P<token>[A-Za-z0-9_-]{20,100})/$", letters.family_no_mail, name="family_no_mail"),
    path("families/", families.families, name="families"),
    path("families/letters/", letters.family_letters, name="family_letters"),
    path("families/queue/", queue.family_queue, name="family_queue"),
    path("families/queue/<int:pk>/", queue.family_queue_words, name="family_queue_words"),
    path("families/slips/", links.family_slips, name="family_slips"),
    path("families/slips/made/", links.family_slips_made, name="family_slips_made"),
    path("families/<int:pk>/", families.family_member, name="family_member"),
    path("families/<int:pk>/seen/", families.family_preview, name="family_preview"),
    path("families/<int:pk>/reads/", families.family_reads, name="family_reads"),
    path("families/<int:pk>/words/", families.family_words, name="family_words"),
    path("families/<int:pk>/words/again/", families.family_redraft, name="family_redraft"),
    path("families/<int:pk>/copy/", records.family_copy, name="family_copy"),
    path("families/<int:pk>/erase/", records.child_erase, name="child_erase"),
    path("families/<int:pk>/links/", links.family_link_new, name="family_link_new"),
    path("families/links/<int:pk>/replace/", links.family_link_replace, name="family_link_replace"),
    path("families/links/<int:pk>/revoke/", links.family_link_revoke, name="family_link_revoke"),
    path("families/<int:pk>/contacts/", families.family_contact, name="family_contact"),
    path("families/contacts/<int:pk>/letter/", letters.family_letter, name="family_letter"),
    path("families/contacts/<int:pk>/came-back/", letters.family_came_back, name="family_came_back"),
    path("families/contacts/<int:pk>/withdraw/", families.family_contact_withdraw, name="family_contact_withdraw"),
]
