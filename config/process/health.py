"""What whoever runs a server asks it: is it alive, is it ready, how much does it do."""

from __future__ import annotations

import hmac
import os
import time
from collections.abc import Callable, Iterator

from django.conf import settings
from django.db import DatabaseError, InterfaceError, connection
from django.db.migrations.executor import MigrationExecutor
from django.db.models import Count, Min
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe
from prometheus_client import CollectorRegistry, Counter, generate_latest
from prometheus_client.core import GaugeMetricFamily
from prometheus_client.multiprocess import MultiProcessCollector
from prometheus_client.registry import Collector

from classroom.models import SignInFailure
from classroom.site.slow_guessing import WINDOW
from planning.jobs.services.send_job import queue_answers
from planning.models import Job, JobState
from planning.preparing.kernels import kernels_ready

#: Where the library keeps the counts of all processes of one web server, so that whichever answers tells their sum.
TOGETHER = "PROMETHEUS_MULTIPROC_DIR"
answered = Counter("helmroom_requests", "Requests answered.", ["view", "status"], registry=None)
worked = Counter("helmroom_processor_seconds", "Processor time of their answers.", ["view"], registry=None)
_migrated = False


class CountRequests:
    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        begun = time.thread_time()  # a request is answered by one thread
        response = self.get_response(request)
        found = request.resolver_match
        view = found.view_name if found and found.view_name else "none"
        answered.labels(view, response.status_code).inc()
        worked.labels(view).inc(time.thread_time() - begun)
        return response


class AskedByMachines:
    """How the server is says the same to everybody: a session would be looked up in the very database that is away."""

    ADDRESSES = ("/health/", "/ready/", "/metrics/")

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if request.path_info in self.ADDRESSES:
            request.COOKIES.clear()
        return self.get_response(request)


@never_cache
@require_safe
def health(request: HttpRequest) -> HttpResponse:
    """The process answers. It asks nobody, so that a database that is away has no process started anew."""
    return HttpResponse("alive\n", content_type="text/plain")


@never_cache
@require_safe
def ready(request: HttpRequest) -> JsonResponse:
    """503 while no page could be made: without the database, or before its migrations.

    Broker and kernels are told and do not count: without them runs are saved and jobs wait in their rows.
    """
    database = _database_answers()
    needed = {"database": database, "migrations": database and _is_migrated()}
    also = {"broker": queue_answers(), "kernels": kernels_ready()}
    answer = JsonResponse(needed | also, status=200 if all(needed.values()) else 503)
    if answer.status_code == 503:
        answer.headers["Retry-After"] = "5"
    return answer


@never_cache
@require_safe
def metrics(request: HttpRequest) -> HttpResponse:
    """Prometheus text exposition format 0.0.4, for whoever has the token; for all others there is no such page."""
    token, said = settings.HELMROOM_METRICS_TOKEN, request.headers.get("Authorization", "")
    if not token or not hmac.compare_digest(said.encode(), f"Bearer {token}".encode()):
        raise Http404
    return HttpResponse(_told(), content_type="text/plain; version=0.0.4; charset=utf-8")


def _told() -> bytes:
    registry = CollectorRegistry()
    if os.environ.get(TOGETHER):
        MultiProcessCollector(registry)
    else:
        registry.register(answered)
        registry.register(worked)
    registry.register(ClubsOfAll())
    return generate_latest(registry)


class ClubsOfAll(Collector):
    """What the database says: the same whichever process is asked."""

    def collect(self) -> Iterator[GaugeMetricFamily]:
        now = timezone.now()
        jobs = GaugeMetricFamily("helmroom_jobs", "Jobs of all clubs by state.", labels=["state"])
        counted = dict(Job.objects.order_by().values_list("state").annotate(count=Count("pk")))
        for state in JobState.values:
            jobs.add_metric([state], counted.get(state, 0))
        yield jobs
        oldest = Job.objects.filter(state=JobState.WAITING).aggregate(at=Min("created_at"))["at"]
        waited = (now - oldest).total_seconds() if oldest else 0
        words = "How long the oldest waiting job has waited."
        yield GaugeMetricFamily("helmroom_job_longest_wait_seconds", words, value=waited)
        words = "Refused sign-ins of tablets and families in the throttle's window."
        refused = GaugeMetricFamily("helmroom_sign_ins_refused", words, labels=["door"])
        doors = SignInFailure.objects.filter(kind__in=["team", "family"], at__gt=now - WINDOW).order_by()
        counted = dict(doors.values_list("kind").annotate(count=Count("pk")))
        for kind in ("family", "team"):
            refused.add_metric([kind], counted.get(kind, 0))
        yield refused


def _database_answers() -> bool:
    try:
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1")
    except (DatabaseError, InterfaceError):
        connection.close()
        return False
    return True


def _is_migrated() -> bool:
    """Asked until it is so: a process lives no longer than its code."""
    global _migrated
    if not _migrated:
        executor = MigrationExecutor(connection)
        _migrated = not executor.migration_plan(executor.loader.graph.leaf_nodes())
    return _migrated
