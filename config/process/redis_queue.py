"""A server's queue in Redis, whose reader takes messages again after Redis was away.

A message is nothing but a job's id, and the sweep sends each again; so one whose end Redis did not hear may come twice.
"""

from __future__ import annotations

from kombu.transport import TRANSPORT_ALIASES, redis, virtual


class RedisQoS(redis.QoS):
    def ack(self, delivery_tag: str) -> None:
        """A message that is done with holds no place, whether Redis hears of it or not.

        With the library's own way it would hold it for ever: a reader that is full looks at its connection no more, and so
        does not see that it has dropped either.
        """
        try:
            super().ack(delivery_tag)
        except redis.Transport.connection_errors:
            virtual.QoS.ack(self, delivery_tag)
            raise


class RedisChannel(redis.Channel):
    QoS = RedisQoS


class RedisTransport(redis.Transport):
    Channel = RedisChannel


def use_for_redis() -> None:
    """From now on ``redis://`` means this one."""
    TRANSPORT_ALIASES["redis"] = f"{__name__}:RedisTransport"
