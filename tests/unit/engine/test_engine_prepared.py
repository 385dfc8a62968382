"""What of a recording is kept for one place, what joins its columns, and how far a replay goes."""

from dataclasses import replace

import pytest
from engine_both_doors import Recorder
from engine_yard import DAY, HOUR, MIN, T0, air, bedding, core, plain, yard

from monitor.engine import NOBODY, PEOPLE, Engine
from monitor.engine.stretch import Commits, commits_from_events, for_place, prepare, replay_pieces, run
from monitor.model.effects import EffectKind, Occasion
from monitor.model.events import Event, EventKind
from monitor.model.units import Quantity
from monitor.recordings.effect_lines import effect_line

PROBES = {"air": air(), "p1-a": core("p1"), "b1-t": bedding("b1"), "b2-t": bedding("b2")}


def yard_of():
    return yard(probes=PROBES)


def recorded(*between, days=2):
    """The events of two days, with others between the readings: (ms, kind, payload)."""
    drive = Recorder(yard_of())
    waiting = sorted(between, key=lambda one: one[0])
    for at in range(T0, T0 + days * DAY, 10 * MIN):
        while waiting and T0 + waiting[0][0] <= at:
            ms, kind, payload = waiting.pop(0)
            drive.feed(T0 + ms, kind, payload)
        drive.read(at, air=12, p1_a=60, b1_t=31, b2_t=20)
    return drive


def work(ms, place, kind, **more):
    return ms, "work", {"time": T0 + ms, "place": place, "kind": kind, **more}


def kept_for(place, *between):
    pieces, settings = for_place(commits_from_events(recorded(*between).events[2:]), yard_of(), place)
    names = {name for piece in pieces if isinstance(piece, Commits) for row in range(len(piece)) for name in
             (one[1] for one in piece.event(row).payload["rows"])}  # fmt: skip
    works = [piece.payload["place"] for piece in pieces if isinstance(piece, Event) and piece.kind is EventKind.WORK]
    return names, works, settings


def test_of_one_place_its_own_probes_and_work_and_the_air_are_kept():
    between = (
        work(HOUR, "b1", "fed"),
        work(2 * HOUR, "b2", "fed"),
        work(3 * HOUR, "p1", "turned"),
        work(4 * HOUR, "p1", "moved", to="p2"),
    )
    names, works, settings = kept_for("b1", *between)
    assert (names, works) == ({"air", "b1-t"}, ["b1"])
    assert (set(settings.bins), set(settings.piles), set(settings.probes)) == ({"b1"}, set(), {"air", "b1-t"})
    names, works, settings = kept_for("p2", *between)
    assert (names, works) == ({"air"}, ["p1"]), "what was moved there is work of the place"
    assert (set(settings.bins), set(settings.piles)) == (set(), {"p2"})


def pieces_of(*between):
    """How many pieces a prepared recording has, and which events stand alone in it."""
    prepared = prepare(commits_from_events(recorded(*between).events[2:]), yard_of())
    alone = [piece.payload.get("kind", piece.kind.value) for piece in prepared.pieces if isinstance(piece, Event)]
    return sum(isinstance(piece, Commits) for piece in prepared.pieces), alone


@pytest.mark.parametrize(
    ("between", "columns", "alone"),
    [
        ([], 1, []),
        ([work(HOUR, "b1", "fed"), work(2 * HOUR, "b2", "watered")], 1, []),
        ([(HOUR, "answer", {"alarm": "b1/overheating", "answer": "seen", "by": "Ann", "until": None})], 1, []),
        ([work(HOUR, "p1", "turned")], 2, ["turned"]),
        ([work(HOUR, "b1", "probe out", probe="b1-t")], 2, ["probe out"]),
        ([work(HOUR, "b1", "moved", to="b2")], 2, ["moved"]),
        ([work(HOUR, "b1", "emptied")], 2, ["emptied"]),
        ([work(HOUR, "b1", "emptied"), work(2 * HOUR, "b1", "fed"), work(3 * HOUR, "b1", "fed")], 3, ["emptied", "fed"]),
        ([work(HOUR, "b1", "emptied"), work(2 * HOUR, "b1", "note"), work(3 * HOUR, "b2", "fed")], 2, ["emptied"]),
        ([(HOUR, "settings", plain(yard_of()))], 1, []),
    ],
)  # fmt: skip
def test_only_what_changes_probes_batches_or_beds_cuts_a_prepared_recording(between, columns, alone):
    assert pieces_of(*between) == (columns, alone)


def lines(effects):
    return [effect_line(effect) for effect in effects]


@pytest.mark.parametrize("ms", [0, 30 * HOUR, 30 * HOUR + 7 * MIN, 3 * DAY])
def test_a_replay_ends_where_it_is_told_with_the_deadlines_up_to_then(ms):
    drive = recorded(work(20 * HOUR, "p1", "turned"), work(40 * HOUR, "p1", "turned"))
    until = T0 + ms
    effects = replay_pieces(Engine(), commits_from_events(drive.events), until)
    drive.advance(T0 + 3 * DAY)
    assert lines(effects) == [effect_line(one) for one in drive.effects if one.at <= until]
    prepared = prepare(commits_from_events(drive.events[2:]), yard_of())
    said = lines(run(prepared, yard_of(), until))
    assert said == lines(run(prepared, yard_of(), until)), "a run leaves nothing behind"


def test_an_empty_recording_says_nothing_and_other_settings_are_refused():
    prepared = prepare([], yard_of())
    assert run(prepared, yard_of()) == []
    with pytest.raises(ValueError, match="only in the thresholds"):
        run(prepared, replace(yard_of(), site=replace(yard_of().site, name="Elsewhere")))


def test_a_replay_tells_how_far_it_is():
    drive, told = recorded(work(20 * HOUR, "p1", "turned")), []
    replay_pieces(Engine(), commits_from_events(drive.events), told=told.append)
    assert told == sorted(told)
    assert told[-1] == len(drive.events)


def test_at_a_seal_another_engine_goes_on():
    drive = recorded()
    other = Engine()
    sealed = Event(drive.engine.last + MIN, EventKind.SEALED, {"down_since": drive.engine.last, "rework": False})
    later = Event(sealed.at + MIN, EventKind.READINGS, {"rows": [], "ahead": []})
    seals = {sealed.at: other.snapshot()}
    effects = replay_pieces(
        Engine(), [*commits_from_events(drive.events), sealed, later], sealed.at + 3 * DAY, seals=seals
    )
    assert [one for one in effects if one.at > sealed.at] == [], "the other knows of no yard"
    ordinary = replay_pieces(Engine(), [*commits_from_events(drive.events), sealed, later], sealed.at + 3 * DAY)
    assert [one for one in ordinary if one.at > sealed.at]


# Runs whose words nobody reads ------------------------------------------------------------------------------------------

WET = {**PROBES, "b1-m": bedding("b1", Quantity.MOISTURE)}


def rung(effects):
    """What people would be told, without its words: no texts, no conditions of bins, no digests."""
    return [
        (effect.at, replace(effect.draft, why="", text=""))
        for effect in effects
        if effect.draft.kind is not EffectKind.CONDITION and effect.draft.axis != Occasion.DIGEST
    ]


def answer(ms, alarm, what, **more):
    return ms, "answer", {"alarm": alarm, "answer": what, "by": "Ann", "until": None, **more}


SMALL = {
    "nothing": [],
    "food while it is wet": [work(13 * HOUR, "b1", "fed"), work(40 * HOUR, "b1", "fed")],
    "water before it is wet": [work(HOUR, "b1", "watered"), work(2 * HOUR, "b1", "watered")],
    "work at both bins": [
        work(9 * HOUR, "b2", "fed"),
        work(9 * HOUR + 5 * MIN, "b1", "note"),
        work(20 * HOUR, "b1", "bedded"),
    ],
    "answers": [
        answer(9 * HOUR, "b1/too-wet", "seen"),
        answer(10 * HOUR, "p1/hot", "put off", until=T0 + 30 * HOUR),
        answer(12 * HOUR, "b1/overheating", "put off", until=T0 + 20 * HOUR),
        answer(15 * HOUR, "b1/overheating", "taken up again"),
        answer(31 * HOUR, "p1/hot", "seen"),
    ],
    "a turning": [work(25 * HOUR, "p1", "turned"), work(30 * HOUR, "b1", "fed")],
    "an emptied bin": [work(8 * HOUR, "b1", "emptied"), work(12 * HOUR, "b1", "bedded"), work(13 * HOUR, "b1", "fed")],
}


@pytest.mark.parametrize("name", SMALL)
@pytest.mark.parametrize("place", ["b1", None])
def test_a_run_that_nobody_reads_decides_what_one_that_people_read_decides(name, place):
    """A bin that is hot by day and wet from the fourth hour on, and a heap that gets too hot."""
    between = sorted(SMALL[name], key=lambda one: one[0])
    drive = Recorder(yard(probes=WET))
    for number, at in enumerate(range(T0, T0 + 2 * DAY, 10 * MIN)):
        while between and T0 + between[0][0] <= at:
            ms, kind, payload = between.pop(0)
            drive.feed(T0 + ms, kind, payload)
        warm = 33 if number // 36 % 4 == 1 else 24
        drive.read(
            at, air=12 + number % 5, p1_a=60 + number / 15 if number < 250 else 60, b1_t=warm + number % 3 / 10,
            b1_m=90 if number > 24 and number % 200 < 190 else 75, b2_t=20,
        )  # fmt: skip
    pieces, settings = commits_from_events(drive.events[2:]), yard(probes=WET)
    if place is not None:
        pieces, settings = for_place(pieces, settings, place)
    prepared = prepare(pieces, settings)
    until = T0 + 2 * DAY + 5 * HOUR
    read, unread = (run(prepared, settings, until, audience) for audience in (PEOPLE, NOBODY))
    assert rung(read) == rung(unread)
    assert len(rung(read)) > 5
    assert not any(effect.draft.text or effect.draft.why for effect in unread if effect.draft.kind is EffectKind.ALARM)
    if place is None:
        drive.advance(until)
        first = T0 - 1
        assert [one for one in rung(read) if one[0] > first] == [one for one in rung(drive.effects) if one[0] > first]
