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


def test_a_table_is_saved_in_both_forms_one_press_after_the_other(site, open_page):
    """A button pressed twice sends once; the one beside it is no second press."""
    page = open_page(site.as_coach, "/settings/data/")
    for form in ("csv", "xlsx"):
        with page.expect_download() as table:
            page.get_by_role("button", name=f"Teams as {form.upper()}").click()
        assert table.value.suggested_filename == f"teams.{form}"


def test_a_button_pressed_twice_sends_once(site, open_page):
    page = open_page(site.as_coach, "/settings/data/")
    asked = []
    page.on("request", lambda request: asked.append(request.url) if request.method == "POST" else None)
    with page.expect_download():
        page.get_by_role("button", name="Teams as CSV").dblclick()
    with page.expect_download():
        page.get_by_role("button", name="Runs as CSV").click()
    assert [address.rsplit("/", 2)[1] for address in asked] == ["teams", "runs"]
