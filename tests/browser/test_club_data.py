"""What a lead coach takes along arrives in the browser as it was written, whatever is squeezed on the way."""

from __future__ import annotations

from pathlib import Path

from classroom.records.archive.read import look_through


def test_archive_and_table_are_saved_by_keyboard(site, open_page):
    page = open_page(site.as_coach, "/settings/data/")
    page.get_by_role("button", name="Save the club’s archive").focus()
    with page.expect_download() as archive:
        page.keyboard.press("Enter")
    with Path(archive.value.path()).open("rb") as file:
        assert look_through(file).club == site.club.uuid
    page.get_by_role("button", name="Teams as CSV").focus()
    with page.expect_download() as table:
        page.keyboard.press("Space")
    text = Path(table.value.path()).read_bytes().decode("utf-8-sig")
    assert text.startswith("Team,Closed on") and "Robin" in text and table.value.suggested_filename == "teams.csv"
