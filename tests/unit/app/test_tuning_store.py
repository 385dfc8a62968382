"""`tune` without files: what the journal gives as columns is its record, event by event."""

import json

import pytest

from monitor.app.tuning_run.tuning_record import _material, _stored
from monitor.configuration import canonical_settings, load_text
from monitor.engine import Engine
from monitor.engine.stretch import Commits, prepare, run
from monitor.journal import open_reader, open_writer
from monitor.model.events import EventKind
from monitor.model.readings import Reading

T0 = 1_775_433_600_000
MINUTE = 60_000
HOUR = 60 * MINUTE
YARD = """
[site]
time_zone = "UTC"

[bins.b1]
[bins.b2]

[probes.b1-t]
place = "b1"

[probes.b2-t]
place = "b2"

[probes.air]
place = "ambient"
role = "ambient"
"""


@pytest.fixture(scope="module")
def yard(tmp_path_factory):
    folder = tmp_path_factory.mktemp("stored")
    (folder / "heaptender.toml").write_text(YARD, encoding="utf-8")
    configuration = load_text(YARD, folder / "heaptender.toml", {})
    changed = load_text(YARD + '\n[bins.b1.thresholds]\noverheating = "29 degC"\n', None, {})
    with open_writer(configuration.data, Engine, Engine.restore) as writer:
        writer_at = T0
        for minute in range(0, 20 * 60, 5):
            writer_at = T0 + minute * MINUTE
            with writer.turn(writer_at) as turn:
                if minute in (0, 300):
                    settings = (configuration if minute == 0 else changed).settings
                    turn.event(EventKind.SETTINGS, {"settings": json.loads(canonical_settings(settings))})
                turn.readings(list(_rows(minute)), [("b1-t", writer_at + 9 * HOUR)] if minute % 400 == 0 else [])
                if minute % 250 == 0:
                    turn.event(EventKind.WORK, {"kind": "fed", "place": "b1", "time": writer_at})
                    turn.event(EventKind.WORK, {"kind": "fed", "place": "b2", "time": writer_at})
        with writer.turn(writer_at + MINUTE) as turn:
            turn.event(
                EventKind.IMPORTED, {"rows": [[T0 - HOUR, "b1-t", 20_000_000, "Cel"], [T0 - HOUR, "b2-t", 1, "Cel"]]}
            )
            turn.advance(writer_at + 3 * HOUR)
        writer.pack_closed_hours(T0 + 15 * HOUR)
    return configuration


def _rows(minute):
    """What came in this minute: now and then late, and of the other bins alone."""
    late = 3 * MINUTE if minute % 35 == 0 else 0
    for probe, micro in (("b1-t", 20_000_000 + minute * 10_000), ("b2-t", 21_000_000), ("air", 12_000_000)):
        if probe == "b2-t" or minute % 3:
            yield Reading(T0 + minute * MINUTE - late, probe, micro + minute % 2 * 62_500, "Cel")


def told(material):
    return [
        event
        for piece in material.pieces
        for event in ([piece.event(n) for n in range(len(piece))] if isinstance(piece, Commits) else [piece])
    ]


@pytest.mark.parametrize("place", ["b1", "b2"])
def test_the_material_is_that_of_the_events(yard, place):
    columns = _stored(yard, place)
    with open_reader(yard.data) as store, store.view():
        events = _material(place, yard.settings, store.events(), store.mark().latest())
    assert told(columns) == told(events)
    assert columns.events == events.events
    assert (columns.start, columns.end, columns.problems) == (events.start, events.end, events.problems)
    assert "1 readings" in columns.problems[0]
    effects = run(prepare(columns.pieces, columns.settings), columns.settings, columns.end)
    assert effects == run(prepare(events.pieces, events.settings), events.settings, events.end)
    assert effects
