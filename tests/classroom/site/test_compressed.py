from __future__ import annotations

from django.test import Client


def test_pages_go_compressed_to_whoever_asks(db):
    """Style sheets and scripts too: tests/config/test_static_files.py."""
    response = Client(headers={"accept-encoding": "gzip"}).get("/team/")
    assert response.status_code == 200
    assert response.headers["Content-Encoding"] == "gzip"


def test_whoever_does_not_ask_gets_them_plain(db):
    assert "Content-Encoding" not in Client().get("/team/").headers
