"""What is counted and measured of the running server, in the text format of Prometheus.

Format: Prometheus text exposition format 0.0.4 (prometheus.io/docs/instrumenting/exposition_formats), written by
the project's own client library. Each application has a registry of its own.
"""

from __future__ import annotations

import shutil
from collections.abc import Iterator

from prometheus_client import (
    CONTENT_TYPE_LATEST,
    CollectorRegistry,
    Counter,
    Gauge,
    Histogram,
    ProcessCollector,
    disable_created_metrics,
    generate_latest,
)
from prometheus_client.core import GaugeMetricFamily
from prometheus_client.registry import Collector

from app.storage.database import Store
from app.work.running import Counted, counted

CONTENT_TYPE = CONTENT_TYPE_LATEST
# Another line for each counter, which says only when it began: the process has its own start time.
disable_created_metrics()  # type: ignore[no-untyped-call]
SECONDS = (0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1.0, 2.5, 5.0, 10.0, 30.0)
"""Bounds of the histogram: a page takes milliseconds, a batch of images seconds."""


class Metrics:
    """The counters of one application."""

    def __init__(self) -> None:
        self.registry = CollectorRegistry()
        self._requests = Counter(
            "fullcount_requests",
            "Requests answered.",
            ("route", "method", "status"),
            registry=self.registry,
        )
        self._seconds = Histogram(
            "fullcount_request_seconds",
            "Time from the head of a request to the end of its answer.",
            ("route", "method"),
            buckets=SECONDS,
            registry=self.registry,
        )
        self.examined = Counter(
            "fullcount_images_examined", "Image files decoded and measured.", registry=self.registry
        )
        self.refused = Counter(
            "fullcount_images_refused", "Image files that were refused.", registry=self.registry
        )
        self.in_hand = Gauge(
            "fullcount_images_in_hand", "Image files that workers are reading now.", registry=self.registry
        )
        self.waiting = Gauge(
            "fullcount_images_waiting", "Image files that wait for a worker.", registry=self.registry
        )
        ProcessCollector(registry=self.registry)

    def answered(self, route: str, method: str, status: int, seconds: float | None) -> None:
        """One request more.

        Parameters
        ----------
        route : its pattern, so that there are not more of them than routes
        seconds : None for an answer whose length says nothing
        """
        self._requests.labels(route, method, str(status)).inc()
        if seconds is not None:
            self._seconds.labels(route, method).observe(seconds)

    def watch(self, store: Store, idle_minutes: int) -> None:
        """Tell about a data folder too, counted anew each time somebody asks."""
        self.registry.register(_Kept(store, idle_minutes))

    def text(self) -> bytes:
        """Everything, as text."""
        return generate_latest(self.registry)


class _Kept(Collector):
    """What lies in the data folder."""

    def __init__(self, store: Store, idle_minutes: int) -> None:
        self._store = store
        self._idle_minutes = idle_minutes

    def describe(self) -> list[GaugeMetricFamily]:
        """Nothing, so that registering does not yet ask the database."""
        return []

    def collect(self) -> Iterator[GaugeMetricFamily]:
        """Ask the database and the disk."""
        found: Counted = counted(self._store, idle_minutes=self._idle_minutes)
        yield _gauge("exposures_recorded", "Exposures recorded.", found.exposures)
        yield _gauge("open_log_ins", "Log-ins that are open and not idle.", found.open_log_ins)
        if found.trail_entries is not None:
            yield _gauge("trail_entries", "Entries of the audit trail.", found.trail_entries)
        if found.database_bytes is not None:
            yield _gauge("database_bytes", "Size of the database.", found.database_bytes)
        yield _gauge(
            "free_disk_bytes", "Free space where the data lie.", shutil.disk_usage(self._store.folder).free
        )


def _gauge(name: str, help_text: str, value: float) -> GaugeMetricFamily:
    return GaugeMetricFamily(f"fullcount_{name}", help_text, value=value)
