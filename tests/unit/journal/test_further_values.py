"""Further values of an instant: kept once beside the first, hashed with their event, taken over from older journals."""

import pytest
from journal_yard import DAY, HOUR, T0, writer_of

from monitor.journal import Kept, open_reader, verify_chain
from monitor.journal.audit import audit
from monitor.journal.chain import What
from monitor.journal.quarantine import Quarantined, conflict_excerpt, set_aside
from monitor.model.events import EventKind
from monitor.model.quarantine import SetAside
from monitor.model.readings import Reading

FIRST, OTHER, THIRD = (Reading(T0, "a", micro, "Cel") for micro in (60_000_000, 20_000_000, 61_000_000))
ALWAYS = 0, 1 << 60


def put(writer, now, *rows, kind=EventKind.READINGS):
    with writer.turn(now) as turn:
        turn.event(kind, {"rows": [list(row) for row in rows]})
    return turn.outcome


def further_of(store):
    return [(event.at, event.payload["further"]) for event in store.events() if "further" in event.payload]


@pytest.mark.parametrize("kind", [EventKind.READINGS, EventKind.IMPORTED])
def test_another_value_is_an_event_once_and_its_day_verifies(tmp_path, kind):
    with writer_of(tmp_path) as writer:
        put(writer, T0 + 1, FIRST)
        assert put(writer, T0 + 2, OTHER, kind=kind).events == [T0 + 2]
        assert put(writer, T0 + 3, OTHER, kind=kind).events == []
        assert put(writer, T0 + 4, THIRD, OTHER, FIRST, kind=kind).events == [T0 + 4]
        put(writer, T0 + DAY, Reading(T0 + DAY, "a", 1, "Cel"))
    with open_reader(tmp_path) as store:
        assert further_of(store) == [(T0 + 2, [list(OTHER)]), (T0 + 4, [list(THIRD)])]
        assert store.further(["a", "b"], T0, T0) == [OTHER, THIRD]
        assert store.further(["a"], T0, T0, known_at=T0 + 3) == [OTHER]
        assert store.further(["a"], T0 + 1, T0 + DAY) == []
        assert list(store.readings(["a"], T0, T0)) == [FIRST]
        assert (audit(store), verify_chain(store)) == ([], [])


def test_a_value_changed_on_disk_is_found(tmp_path):
    with writer_of(tmp_path) as writer:
        put(writer, T0 + 1, FIRST, OTHER)
        writer.store.connection.execute("UPDATE further SET micro = 60000000")
        told = [finding.sentence for finding in audit(writer.store)]
        assert len(told) == 1
        assert "further values" in told[0]


def test_days_whose_further_values_fall_into_a_protected_time_stay(tmp_path):
    with writer_of(tmp_path) as writer:
        put(writer, T0 + 1, FIRST)
        put(writer, T0 + 3 * DAY, OTHER)
        for day in (5, 9):
            put(writer, T0 + day * DAY, Reading(T0 + day * DAY, "a", 1, "Cel"))
        pruned = writer.prune(Kept(now=T0 + 9 * DAY, days=1, protected=[(T0, T0 + HOUR)]))
        assert len(pruned.protected) == 2
        assert writer.store.further(["a"], *ALWAYS) == [OTHER]
        writer.prune(Kept(now=T0 + 9 * DAY, days=1))
        assert writer.store.further(["a"], *ALWAYS) == []
        assert {finding.what for finding in audit(writer.store)} == {What.PRUNED}


@pytest.mark.parametrize("step", [0, 1])
def test_what_an_older_version_only_set_aside_is_fed_with_the_first_turn(tmp_path, step):
    """At a seal (another meaning) and without one; a start comes first, for it gathers what fell due."""
    gone = Reading(T0 + HOUR, "a", 5, "Cel")
    with writer_of(tmp_path) as writer:
        put(writer, T0 + 1, FIRST)
        for row in (OTHER, gone):
            aside = Quarantined(T0 + 2, "a", SetAside.CONFLICT, "", conflict_excerpt(row))
            set_aside(writer.store.connection, aside)
        writer.store.connection.execute("UPDATE mark SET meaning = meaning - ?, crc = NULL", (step,))
    with writer_of(tmp_path) as writer:
        with writer.turn(T0 + HOUR) as turn:
            turn.event(EventKind.STARTED, {"down_since": T0 + 1})
        assert [rows for _, rows in further_of(writer.store)] == [[list(OTHER)]]
        put(writer, T0 + HOUR + 1, Reading(T0 + 2 * HOUR, "a", 1, "Cel"))
        put(writer, T0 + HOUR + 2, OTHER)
        kinds = [event.kind for event in writer.store.events(T0 + 1)]
        assert kinds.index(EventKind.STARTED) < kinds.index(EventKind.READINGS)
        # Of what stood beside a reading that is no more nothing is made.
        assert [rows for _, rows in further_of(writer.store)] == [[list(OTHER)]]
        assert (audit(writer.store), verify_chain(writer.store)) == ([], [])
