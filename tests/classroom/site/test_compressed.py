from __future__ import annotations

from django.test import Client


def test_pages_and_styles_go_compressed_to_whoever_asks(db):
    client = Client(headers={"accept-encoding": "gzip"})
    for path in ("/team/", "/static/site/helmroom.css"):
        response = client.get(path)
        assert response.status_code == 200
        assert response.headers["Content-Encoding"] == "gzip", path


def test_whoever_does_not_ask_gets_them_plain(db):
    assert "Content-Encoding" not in Client().get("/team/").headers
