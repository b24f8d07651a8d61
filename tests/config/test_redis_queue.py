"""A worker that was busy when Redis was restarted takes messages again afterwards."""

from __future__ import annotations

import logging
import shutil
from collections.abc import Iterator
from pathlib import Path
from queue import Empty

import pytest
from kombu import Connection, Consumer, Queue

from config.celery import queue_settings
from config.process.redis_queue import use_for_redis
from tests.faults.own_servers import Redis
from tests.patience import LONGEST_S, until

pytestmark = [
    pytest.mark.redis,
    pytest.mark.skipif(not shutil.which("redis-server"), reason="needs redis-server (apt-get install redis-server)"),
]


@pytest.fixture
def own_redis(tmp_path: Path) -> Iterator[Redis]:
    use_for_redis()
    server = Redis(tmp_path)
    server.start()
    yield server
    server.stop()


def test_a_message_whose_end_redis_did_not_hear_holds_no_place(own_redis):
    """Full of messages that nobody can take back, a worker would look for no more, also when Redis is there again."""
    options = queue_settings(own_redis.address, Path("unused"), 120)["broker_transport_options"]
    taken = []
    with Connection(own_redis.address, transport_options=options) as connection:
        queue = Queue("work", channel=connection.default_channel)
        with (
            connection.Producer() as producer,
            Consumer(connection, [queue], on_message=taken.append, prefetch_count=1),
        ):
            producer.publish({"job": 1}, routing_key="work", declare=[queue])
            until(lambda: connection.drain_events(timeout=LONGEST_S) or taken, "the message")
            assert not connection.default_channel.qos.can_consume()
            own_redis.stop()
            taken[0].ack_log_error(logging.getLogger("test"), connection.connection_errors)
            own_redis.start()
            assert connection.default_channel.qos.can_consume()


def test_the_end_of_a_message_is_told_to_redis(own_redis):
    with Connection(own_redis.address) as connection:
        line = connection.SimpleQueue("work")
        line.put({"job": 1})
        message = line.get(timeout=LONGEST_S)
        assert connection.default_channel.client.hlen("unacked") == 1
        message.ack()
        assert connection.default_channel.client.hlen("unacked") == 0
        with pytest.raises(Empty):
            line.get_nowait()
