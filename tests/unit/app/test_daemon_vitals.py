"""The figures of a real daemon, read by the reference parser of OpenMetrics."""

import contextlib
import http.client
import socket
import threading
import time

import pytest
from prometheus_client.openmetrics.parser import text_string_to_metric_families
from running_daemon import START, daemons

from monitor.app.loop.storing import mark_storing
from monitor.codec import Reject
from monitor.intake import Arrival
from monitor.model.quarantine import SetAside
from monitor.model.readings import Heard

TOKEN = "0123456789abcdef0123"
YARD = """
[site]
name = "Test yard"
time_zone = "UTC"
temperature_unit = "degC"
[piles.p1]
name = "Bay 1"
[probes.p1-a]
place = "p1"
"""


@pytest.fixture
def port():
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        return free.getsockname()[1]


@pytest.fixture
def daemon(tmp_path, port):
    starting = daemons(tmp_path, YARD + f'[page]\nport = {port}\nmetrics_token = "{TOKEN}"\n')
    start = next(starting)
    running = start()
    until = time.monotonic() + 20
    while not running.page.address and time.monotonic() < until:
        time.sleep(0.02)
    yield running
    next(starting, None)


def answer(port, path, **headers):
    with contextlib.closing(http.client.HTTPConnection("127.0.0.1", port, timeout=10)) as connection:
        connection.request("GET", path, headers=headers)
        said = connection.getresponse()
        return said.status, said.read().decode()


def figures(port):
    status, text = answer(port, "/metrics", Authorization=f"Bearer {TOKEN}")
    assert status == 200
    return {family.name: family for family in text_string_to_metric_families(text)}


def value(family, **labels):
    return next(one.value for one in family.samples if one.labels == labels)


def test_the_reference_parser_reads_the_figures_and_they_are_those_of_the_daemon(daemon, port):
    known = figures(port)
    assert value(known["heaptender_storing"]) == 1
    assert 0 <= value(known["heaptender_turn_age_seconds"]) < 30
    assert value(known["heaptender_record_end_timestamp_seconds"]) == pytest.approx(START / 1000, abs=60)
    assert value(known["heaptender_place_watched"], place="p1", by="empty") == 1
    assert known["heaptender_probe_last_reading_timestamp_seconds"].samples == []
    assert all(family.documentation for family in known.values())


def test_a_reading_a_stranger_and_rubbish_are_counted(daemon, port):
    at = daemon.clock.now_ms()
    for probe in ("p1-a", "nobody"):
        heard = (Heard(probe, "temperature", 57_250_000, "Cel", at),)
        daemon.hub.offer(Arrival("test", at, heard, (), None, "topic", b"raw"))
    daemon.hub.offer(
        Arrival("test", at, (), (Reject(SetAside.MALFORMED, "no JSON", "rubbish"),), None, "topic", b"rubbish")
    )
    taken = threading.Event()
    daemon.hub.call(taken.set)
    assert taken.wait(20)
    known = figures(port)
    newest = known["heaptender_probe_last_reading_timestamp_seconds"]
    assert value(newest, probe="p1-a", place="p1") == pytest.approx(at / 1000, abs=5)
    assert sum(one.value for one in known["heaptender_set_aside"].samples) == 2


def test_a_daemon_that_cannot_store_is_unwell(daemon, port):
    assert answer(port, "/health") == (200, "The daemon stores what comes in.\n")
    mark_storing(daemon.configuration.data, works=False)
    status, said = answer(port, "/health")
    assert (status, said) == (503, "Nothing can be stored; the daemon's log says why.\n")
    assert value(figures(port)["heaptender_storing"]) == 0
