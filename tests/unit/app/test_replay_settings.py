"""`replay --set` on a record whose places came and went."""

import json

import pytest

from monitor.app.replay.replay_settings import changed, settings_ever, with_settings
from monitor.app.replay.replaying import Recording, replay
from monitor.configuration import canonical_settings, settings_of
from monitor.engine import Engine
from monitor.model.errors import ConfigurationError
from monitor.model.events import Event, EventKind
from monitor.model.settings import Bin, Pile, Probe, Settings, Site
from monitor.model.times import MINUTE_MS, parse_time
from monitor.model.words import Role

NOON = parse_time("2026-07-01T12:00:00Z")
SITE = Site(name="Yard", time_zone="UTC", temperature_unit="degF")
HEAP = Settings(site=SITE, piles={"p1": Pile(name="Bay 1")})
BOTH = Settings(
    site=SITE,
    piles={"p1": Pile(name="Bay 1")},
    bins={"b1": Bin(name="Wall bin")},
    probes={"b1-t": Probe(place="b1", role=Role.BEDDING, address="b1-t")},
)


def settings_event(at, settings):
    return Event(at, EventKind.SETTINGS, {"settings": json.loads(canonical_settings(settings))})


def readings(start, count, degf):
    for n in range(count):
        at = start + n * MINUTE_MS
        yield Event(at, EventKind.READINGS, {"rows": [[at, "b1-t", degf * 1_000_000, "[degF]"]], "ahead": []})


def record():
    """A bin that is added after the first start, warms, and is taken away again."""
    return [
        settings_event(NOON, HEAP),
        settings_event(NOON + 1000, BOTH),
        *readings(NOON + 2000, 40, 84),
        settings_event(NOON + 3_600_000, HEAP),
    ]


def alarms(effects):
    return [one.draft.axis for one in effects if one.draft.kind == "alarm" and one.draft.after == "unacknowledged"]


def test_a_place_that_came_later_and_is_gone_can_be_changed():
    recording = Recording(record())
    assert "overheating" not in alarms(replay(recording))
    assert "overheating" in alarms(replay(recording, ["bins.b1.overheating=83 degF"]))


def test_only_states_that_have_the_place_are_changed():
    events = with_settings(record(), ["bins.b1.overheating=83 degF"])
    states = [settings_of(json.dumps(one.payload["settings"])) for one in events if one.kind is EventKind.SETTINGS]
    assert [sorted(one.bins) for one in states] == [[], ["b1"], []]
    assert states[1].bins["b1"].thresholds.overheating_milli_c == 28_333
    ever = settings_ever(record())
    assert ever.place_name("b1") == "Wall bin"
    assert changed(ever, ["bins.b1.overheating=83 degF"]).bins["b1"].thresholds.overheating_milli_c == 28_333


def test_a_place_that_never_was_is_refused_and_those_that_were_are_named():
    with pytest.raises(ConfigurationError, match=r'there is no bin "b2" in the recording; known here: b1'):
        with_settings(record(), ["bins.b2.overheating=83 degF"])


def test_a_record_that_begins_with_a_checkpoint_is_changed_from_there():
    engine = Engine()
    engine.feed(settings_event(NOON, BOTH), None)
    recording = Recording(list(readings(NOON + 2000, 40, 84)), state=engine.snapshot())
    assert "overheating" not in alarms(replay(recording))
    assert "overheating" in alarms(replay(recording, ["bins.b1.overheating=83 degF"]))
