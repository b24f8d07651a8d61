"""Files of the laptop's queue that a power cut or a full disk has torn end no worker and hold up no job."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from celery import Celery
from kombu import Connection, Exchange, Queue

from config.celery import make_folders, queue_settings
from config.process.files_queue import Transport, use_for_files

CELERY = Queue("celery", Exchange("celery", type="direct"), routing_key="celery")


@pytest.fixture
def folder(tmp_path):
    use_for_files()
    Transport.global_state.clear()  # what this process had declared, as a new one has not
    make_folders("embedded", tmp_path)
    return tmp_path / "broker"


@pytest.fixture
def queue(folder):
    told = queue_settings("embedded", folder.parent, 120)
    with Connection(told["broker_url"], transport_options=told["broker_transport_options"]) as connection:
        yield connection.SimpleQueue(CELERY)


def tear(path):
    text = path.read_text()
    path.write_text(text[: len(text) // 2])


TORN = ["", "{", "null", "[]", "{}", '{"body": "x"}', '{"body": "x", "properties": {}}', "\udcff"]


@pytest.mark.parametrize("text", TORN)
def test_a_torn_message_is_left_out_and_the_next_one_comes(folder, queue, text, caplog):
    (folder / "0_first.celery.msg").write_bytes(text.encode(errors="surrogateescape"))
    queue.put({"job": 7})
    with pytest.raises(queue.Empty):
        queue.get(block=False)
    assert "torn message was left out" in caplog.text
    message = queue.get(block=False)
    assert message.payload == {"job": 7}
    message.ack()
    assert list(folder.glob("*.msg")) == []


def test_a_real_message_cut_short_is_left_out(folder, queue):
    queue.put({"job": 7})
    tear(next(folder.glob("*.msg")))
    with pytest.raises(queue.Empty):
        queue.get(block=False)
    assert list(folder.glob("*.msg")) == []


@pytest.mark.parametrize("text", ["", "[[", "7", '[["only one"]]', "null"])
def test_a_torn_list_of_queues_is_set_aside_and_written_anew(folder, queue, text):
    queue.put({"job": 1})
    listed = folder / "control" / "celery.exchange"
    listed.write_text(text)
    queue.put({"job": 2})
    got = [queue.get(block=False).payload["job"] for _ in range(2)]
    assert sorted(got) == [1, 2]  # files of the same millisecond come in any order
    assert json.loads(listed.read_text()) == [["celery", "", "celery"]]
    assert listed.with_suffix(".torn").read_text() == text


def test_a_worker_that_starts_with_a_torn_list_comes_up(folder):
    (folder / "control" / "celery.exchange").write_text("[[")
    told = queue_settings("embedded", folder.parent, 120)
    with Connection(told["broker_url"], transport_options=told["broker_transport_options"]) as connection:
        queue = connection.SimpleQueue(CELERY)
        queue.put({"job": 3})
        assert queue.get(block=False).payload == {"job": 3}


def test_the_sites_own_queue_reads_so():
    app = Celery("look", set_as_current=False)
    app.conf.update(queue_settings("embedded", Path("x"), 120))
    with app.connection() as connection:
        assert type(connection.transport).__module__ == "config.process.files_queue"
    app.close()
