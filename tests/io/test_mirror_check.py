"""The daily check finds what a server lost although it had said that it took it, and sends it again."""

import json

import pytest
from metrics_server import MetricsServer

from monitor.app.upkeep.mirror_check import check_mirror
from monitor.configuration import canonical_settings, load_text
from monitor.engine import Engine
from monitor.journal import open_writer
from monitor.model.events import EventKind
from monitor.model.readings import Reading
from monitor.model.times import HOUR_MS
from monitor.proof.rules import rule_ids

pytestmark = pytest.mark.io

NOW = 1_790_000_000_000
YARD = """
[site]
data = "data"
[bins.b1]
name = "Bin"
[probes.b1-t]
place = "b1"
role = "bedding"
[mirror]
url = "{url}"
org = "yard"
bucket = "yard"
"""


def test_what_the_server_lost_is_sent_again(tmp_path):
    server = MetricsServer(tmp_path / "server").start()
    try:
        text = YARD.replace("{url}", server.url)
        configuration = load_text(text, tmp_path / "heaptender.toml", {}, rules=rule_ids())
        rows = [Reading(NOW - (10 + n) * HOUR_MS, "b1-t", 21_000_000 + n * 125_000, "Cel") for n in range(30)]
        with open_writer(configuration.data, Engine, Engine.restore) as writer, writer.turn(NOW) as turn:
            turn.event(EventKind.SETTINGS, {"settings": json.loads(canonical_settings(configuration.settings))})
            turn.readings(sorted(rows))
        said = []
        check_mirror(configuration, NOW, said.append)
        assert said == ["of 47 hours 30 lacked readings, 30 were sent again"]
        held = {(probe, time): value for probe, time, value in server.points("raw")}
        assert held == {("b1-t", row.time): row.micro / 1e6 for row in rows}
        check_mirror(configuration, NOW, said.append)
        assert said[1] == "the mirror holds everything in 47 hours"
    finally:
        server.stop()


def test_a_server_that_is_away_is_one_sentence(tmp_path):
    text = YARD.replace("{url}", "http://127.0.0.1:9")
    configuration = load_text(text, tmp_path / "heaptender.toml", {}, rules=rule_ids())
    open_writer(configuration.data, Engine, Engine.restore).close()
    said = []
    check_mirror(configuration, NOW, said.append)
    assert len(said) == 1
    assert said[0].startswith("the mirror could not be checked: ")
