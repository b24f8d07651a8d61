"""The queue. It carries ids of jobs and nothing else; whether a job is done is in its row (planning.models.Job).

Embedded (a laptop): messages are files in the data folder, read by one worker of one process. A server: Redis.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from celery import Celery
from django.conf import settings

from config.process.files_queue import use_for_files
from config.process.redis_queue import use_for_redis

EMBEDDED = "embedded"


def queue_settings(broker: str, data_dir: Path, deadline_s: float) -> dict[str, Any]:
    """What Celery is told for a broker: ``"embedded"`` or a ``redis://`` address."""
    common: dict[str, Any] = {
        "include": ["planning.jobs.tasks"],
        "task_ignore_result": True,
        "task_serializer": "json",
        "accept_content": ["json"],
        "task_acks_late": True,
        "worker_prefetch_multiplier": 1,
        "worker_hijack_root_logger": False,
        "worker_enable_remote_control": False,
        "worker_send_task_events": False,
        "broker_connection_retry_on_startup": True,
        "broker_connection_max_retries": None,
        "broker_channel_error_retry": True,
        # A request never waits for the queue: what could not be sent stays in its row, and the sweep sends it again.
        "task_publish_retry": False,
        # Only with the prefork pool; on a laptop the supervisor ends a worker that overruns.
        "task_soft_time_limit": deadline_s + 10,
        "task_time_limit": deadline_s + 20,
    }
    if broker == EMBEDDED:
        folder = data_dir / "broker"
        return common | {
            "broker_url": "filesystem://localhost//",
            "broker_transport_options": {
                "data_folder_in": str(folder),
                "data_folder_out": str(folder),
                "control_folder": str(folder / "control"),
                "store_processed": False,
                "polling_interval": 0.1,
            },
        }
    return common | {
        "broker_url": broker,
        "broker_transport_options": {
            "visibility_timeout": 60,
            # Kombu looks for unacknowledged messages every interval x throttle seconds: 100 by default.
            "unacked_restore_interval": 2,
            "unacked_restore_throttle": 1,
            "socket_connect_timeout": 1,
            "socket_timeout": 10,
            "socket_keepalive": True,
        },
    }


def make_folders(broker: str, data_dir: Path) -> None:
    """The embedded queue's folders, whoever has erased them."""
    if broker == EMBEDDED:
        (data_dir / "broker" / "control").mkdir(parents=True, exist_ok=True)


use_for_files()
use_for_redis()
app = Celery("helmroom")
app.conf.update(queue_settings(settings.HELMROOM_BROKER, settings.DATA_DIR, settings.HELMROOM_JOB_DEADLINE_S))
make_folders(settings.HELMROOM_BROKER, settings.DATA_DIR)
