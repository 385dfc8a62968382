"""A place taken out of the configuration: its readings are exported all the same, and put back it knows them."""

import json
from dataclasses import replace

import pytest
from certificate_yard import HOUR, MIN, T0, Journal, yard
from click.testing import CliRunner

from monitor.app.command import heaptender
from monitor.model.settings import Bin, Probe
from monitor.model.units import Quantity
from monitor.model.words import Role

CONFIG = """
[site]
time_zone = "UTC"
temperature_unit = "degC"
data = "data"
[piles.p1]
[probes.p1-a]
place = "p1"
"""


@pytest.fixture
def journal(tmp_path):
    (tmp_path / "heaptender.toml").write_text(CONFIG)
    base = yard()
    full = replace(
        base,
        bins={"b1": Bin(name="Shed bin")},
        probes={**base.probes, "b1-t": Probe(place="b1", role=Role.BEDDING, address="")},
    )
    made = Journal(tmp_path / "data", full)
    made.hold(T0, T0 + 3 * HOUR, 10 * MIN, b1_t=22, p1_a=30)
    made.full, made.without = full, base
    yield made
    made.writer.close()


def export(journal, *words):
    config = str(journal.folder.parent / "heaptender.toml")
    return CliRunner().invoke(heaptender, ["export", *words, "--config", config], standalone_mode=False)


def test_readings_work_and_effects_of_a_place_that_is_gone_are_exported(journal):
    journal.work(T0 + HOUR, "b1", "fed")
    journal.work(T0 + 2 * HOUR, "b1", "probe out", probe="b1-t")
    journal.settle(T0 + 3 * HOUR, journal.without)
    rows = export(journal, "readings", "--place", "b1").output.splitlines()
    # From two hours on the probe lay nowhere.
    assert len(rows) == 1 + 12
    assert all(",b1-t," in row for row in rows[1:])
    assert len(export(journal, "work", "--place", "b1").output.splitlines()) == 3
    effects = [json.loads(line) for line in export(journal, "effects", "--place", "b1").output.splitlines()]
    assert {one["place"] for one in effects} == {"b1"}


def test_what_was_imported_of_a_time_before_the_probe_was_configured_is_of_its_first_place(tmp_path):
    (tmp_path / "heaptender.toml").write_text(CONFIG)
    base = yard()
    bench = Probe(place="", role=Role.BEDDING, address="")
    journal = Journal(tmp_path / "data", replace(base, probes={**base.probes, "b1-w": bench}))
    at_bin = {name: replace(bench, place="b1") for name in ("b1-t", "b1-w")}
    full = replace(base, bins={"b1": Bin(name="Shed bin")}, probes={**base.probes, **at_bin})
    journal.settle(T0 + 9 * HOUR, full)
    rows = [[T0 + n * HOUR, name, 22_000_000, "Cel"] for n in range(3) for name in ("b1-t", "b1-w")]
    with journal.writer.turn(T0 + 10 * HOUR) as turn:
        turn.event("imported", {"rows": rows})
    (tmp_path / "heaptender.toml").write_text(
        f"{CONFIG}[bins.b1]\nname = 'Shed bin'\n[probes.b1-t]\nplace = 'b1'\n[probes.b1-w]\nplace = 'b1'\n"
    )
    # b1-w was known before, and lay nowhere then.
    there = export(journal, "readings", "--place", "b1").output.splitlines()[1:]
    assert [row.split(",")[1] for row in there] == ["b1-t"] * 3
    journal.settle(T0 + 11 * HOUR, base)
    (tmp_path / "heaptender.toml").write_text(CONFIG)
    assert export(journal, "readings", "--place", "b1").output.splitlines()[1:] == there
    journal.writer.close()


def test_a_place_that_never_was_is_refused(journal):
    found = export(journal, "readings", "--place", "b7")
    assert "there never was" in str(found.exception)
    assert "b1" in str(found.exception)


def test_a_place_that_is_back_knows_its_readings_and_rings_no_alarm(journal):
    journal.settle(T0 + 3 * HOUR, journal.without)
    assert "b1-t" not in journal.engine.state.watches
    journal.settle(T0 + 9 * HOUR, journal.full)
    watch = journal.engine.state.watches["b1-t"]
    assert (watch.newest, watch.accepted_milli) == (T0 + 3 * HOUR - 10 * MIN, 22_000)
    assert "b1-t never heard" not in journal.engine.before_you_go(T0 + 9 * HOUR + MIN)
    with journal.writer.turn(T0 + 9 * HOUR + 30 * MIN) as turn:
        turn.advance(T0 + 9 * HOUR + 30 * MIN)
    # It is waited for anew, as after a start.
    assert not watch.silent
    with journal.writer.turn(T0 + 11 * HOUR) as turn:
        turn.advance(T0 + 11 * HOUR)
    assert journal.engine.state.watches["b1-t"].silent


def test_a_probe_that_comes_back_as_another_thing_begins_anew(journal):
    journal.settle(T0 + 3 * HOUR, journal.without)
    moist = Probe(place="b1", role=Role.BEDDING, quantity=Quantity.MOISTURE, basis="wet-mass", address="")
    journal.settle(T0 + 9 * HOUR, replace(journal.full, probes={**journal.without.probes, "b1-t": moist}))
    assert journal.engine.state.watches["b1-t"].newest is None
