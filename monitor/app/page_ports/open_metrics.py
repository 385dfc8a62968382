"""The daemon's figures as OpenMetrics text, made from the same values as `status --json`.

A name says what is counted and in which unit; each figure has a help text. Labels are ids of the configuration, so their
number is bounded by it: nothing that a stranger sends to the broker can make a new one.
"""

import os
from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from importlib.metadata import version
from pathlib import Path

from prometheus_client import CollectorRegistry, ProcessCollector
from prometheus_client.core import CounterMetricFamily, GaugeMetricFamily, InfoMetricFamily, Metric
from prometheus_client.openmetrics.exposition import generate_latest

from monitor.app.page_ports.page_yard import DaemonYard
from monitor.app.yard.yard_status import status_values
from monitor.app.yard.yard_view import YardView
from monitor.journal import open_reader
from monitor.model.errors import UnavailableError
from monitor.model.times import parse_time

Labelled = Sequence[tuple[Sequence[str], float]]


class DaemonFigures:
    """Makes the figures anew each time they are asked for."""

    def __init__(
        self, yard: DaemonYard, folder: Path, *, stores: Callable[[], bool], turn_age_s: Callable[[], float]
    ) -> None:
        """Note where the figures come from.

        Args:
            yard: Gives a consistent copy of the engine.
            folder: The data folder.
            stores: Returns whether what comes in is stored.
            turn_age_s: Returns how long ago the writer last came round, seconds.
        """
        self._yard = yard
        self._folder = folder
        self._stores = stores
        self._turn_age_s = turn_age_s
        self._registry = CollectorRegistry()
        ProcessCollector(namespace="heaptender", registry=self._registry)
        self._registry.register(_Collector(self._families))

    def text(self) -> bytes:
        """Return all figures as OpenMetrics text."""
        text: bytes = generate_latest(self._registry)  # type: ignore[no-untyped-call]
        return text

    def _families(self) -> Iterator[Metric]:
        yield InfoMetricFamily("heaptender", "The program.", {"version": version("heaptender")})
        yield _gauge("heaptender_storing", "1 while what comes in is stored, else 0.", float(self._stores()))
        yield _gauge("heaptender_turn_age_seconds", "Time since the writer last came round.", self._turn_age_s())
        with suppress(OSError):
            free = os.statvfs(self._folder)
            words = "Room left on the disk of the data folder."
            yield _gauge("heaptender_disk_free_bytes", words, free.f_bavail * free.f_frsize)
        with suppress(UnavailableError):
            yield from self._of_yard()

    def _of_yard(self) -> Iterator[Metric]:
        with self._yard.look() as look, open_reader(self._folder) as store, store.view():
            values = status_values(YardView(look.engine, store, os.getpid(), None, look.engine.last, []), look.now)
        last = parse_time(values["last"]) / 1000
        yield _gauge("heaptender_record_end_timestamp_seconds", "Up to when the record goes.", last)
        yield _gauge("heaptender_journal_bytes", "Size of the record on the disk.", values["journal_bytes"])
        yield _gauge(
            "heaptender_messages_waiting", "Messages to people that are not sent yet.", values["notices_waiting"]
        )
        yield _gauge("heaptender_readings_waiting", "Readings that wait for a sure clock.", values["readings_waiting"])
        yield _labelled("heaptender_link_up", "1 for a connection that works, else 0.", ("name", "what"),
                        [((one["name"], one["what"]), float(one["up"])) for one in values["links"]])  # fmt: skip
        heard = [
            ((one["probe"], one["place"] or ""), parse_time(one["last"]) / 1000)
            for one in values["probes"]
            if one["last"]
        ]
        yield _labelled(
            "heaptender_probe_last_reading_timestamp_seconds",
            "Time of a probe's newest reading.",
            ("probe", "place"),
            heard,
        )
        yield _labelled("heaptender_place_watched", "1 for a place whose state is known now, else 0.", ("place", "by"),
                        [((one["place"], one["by"]), float(one["known"])) for one in values["watched"]])  # fmt: skip
        yield _labelled("heaptender_alarm_active", "1 for each alarm that is on, by its state.", ("alarm", "state"),
                        [((one["alarm"], one["state"]), 1.0) for one in values["alarms"]])  # fmt: skip
        refused = CounterMetricFamily(
            "heaptender_set_aside", "Messages and values that could not be taken in.", labels=["reason"]
        )
        for reason, count in values["set_aside"].items():
            refused.add_metric([reason], count)
        yield refused


class _Collector:
    """A collector that makes its figures anew each time it is asked."""

    def __init__(self, families: Callable[[], Iterator[Metric]]) -> None:
        self.collect = families

    def describe(self) -> list[Metric]:
        """Describe nothing, so that registering asks for no figures yet."""
        return []


def _gauge(name: str, words: str, value: float) -> Metric:
    return GaugeMetricFamily(name, words, value)


def _labelled(name: str, words: str, labels: tuple[str, ...], values: Labelled) -> Metric:
    family = GaugeMetricFamily(name, words, labels=list(labels))
    for of, value in values:
        family.add_metric(list(of), value)
    return family
