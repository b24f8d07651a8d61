"""Who may do what in a club, set by its lead coach's own presses."""

from __future__ import annotations

from playwright.sync_api import expect


def test_a_role_is_set_and_ended_and_the_club_s_only_lead_is_told_why_not(site, open_page):
    page = open_page(site.as_coach, "/coaches/")
    row = page.locator("li", has_text=site.assistant.user.email)
    row.get_by_role("combobox", name="Role of").select_option("observer")
    row.get_by_role("button", name="Set the role of").click()
    expect(page.get_by_text(": Observer", exact=False)).to_be_visible()
    site.assistant.refresh_from_db()
    assert site.assistant.role == "observer"
    row.get_by_role("button", name="End the role of").click()
    expect(page.get_by_text("sees nothing of the club any more")).to_be_visible()
    expect(row).to_have_count(0)

    own = page.locator("li", has_text=site.coach.user.email)
    for press in ("End the role of", "Set the role of"):
        own.get_by_role("combobox", name="Role of").select_option("assistant")
        own.get_by_role("button", name=press).click()
        expect(page.get_by_text("A club needs a lead coach")).to_be_visible()
        page.goto("/coaches/")
    site.coach.refresh_from_db()
    assert site.coach.role == "lead" and site.coach.left_at is None
