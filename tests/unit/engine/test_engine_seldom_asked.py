"""What the engine seldom does, each piece with stand-ins for its neighbours: seals, clocks, bins filled again, texts."""

from types import SimpleNamespace

import pytest
from engine_yard import DAY, HOUR, MIN, T0, Drive, bedding, core, yard

from monitor.engine.asking import entry_questions
from monitor.engine.asking.implausible_measures import DEEPEST_MM, REACH_MM, hardly_so_deep_in
from monitor.engine.asking.stock_tally import Heap as Stock
from monitor.engine.asking.stock_tally import StockTally
from monitor.engine.asking.yard_sizes import BedSpace
from monitor.engine.batches.recompute import _begin_earlier, _read_earlier
from monitor.engine.bins import bin_work
from monitor.engine.bins.bin_work import _refill
from monitor.engine.context.batch_feeder import Heap
from monitor.engine.context.batch_runs import heat_status
from monitor.engine.context.read_spots import HandSpot, LastRead, is_of_another_heap, why_not_held
from monitor.engine.handlers import corrections
from monitor.engine.handlers.clock_news import in_time, take_ahead
from monitor.engine.handlers.corrections import _rebuilt
from monitor.engine.meaning import take_seal
from monitor.engine.output.alarm_notices import shorten_mute
from monitor.engine.output.summaries import away_text, leaving_text, watched_text
from monitor.engine.probes.silence_alarms import adopt_stages
from monitor.material import HeatStatus
from monitor.model.alarm_kinds import Alarm, alarm_key
from monitor.model.alarm_values import ClockOff
from monitor.model.readings import Reading
from monitor.model.settings import AMBIENT, Pile
from monitor.model.units import Quantity
from monitor.model.words import Method, RuleState
from monitor.model.work import Work, WorkKind
from monitor.piles import COLDEST, HOTTEST

NOW = T0 + 6 * HOUR


def stub(**more):
    return SimpleNamespace(**more)


# Clocks ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("place", "told"), [("b1", "b1"), ("", AMBIENT)])
def test_a_word_from_the_future_is_told_once_and_is_over_with_the_next_in_time(place, told):
    watch, said = stub(ahead=False, heard=[]), []
    watch.arrive = lambda at, late: watch.heard.append((at, late))
    port = stub(
        at=NOW, settings=stub(probe_thresholds=stub(ahead_ms=120_000)), watch=lambda probe: watch,
        place_of=lambda probe: place, begins=lambda *what, **more: said.append((what, more)),
        ends=lambda *what: said.append(what),
    )  # fmt: skip
    in_time(port, "x")
    assert (said, watch.ahead) == ([], False)
    take_ahead(port, "x", NOW + DAY)
    take_ahead(port, "x", NOW + 2 * DAY)
    ((what, more),) = said
    assert (what, more["since"], more["last"], more["probe"]) == ((told, Alarm.CLOCK), NOW, NOW, "x")
    assert more["values"].clock == ClockOff(by_ms=DAY, limit_ms=120_000)
    assert (watch.heard, watch.ahead) == ([(NOW, False)] * 2, True)
    in_time(port, "x")
    in_time(port, "x")
    assert (said[1:], watch.ahead) == ([(told, Alarm.CLOCK, "x")], False)


# A seal ----------------------------------------------------------------------------------------------------------


@pytest.fixture
def drive():
    made = Drive(yard(probes={"p1-a": core("p1"), "p1-b": core("p1"), "b1-t": bedding("b1")}))
    made.hold(T0, NOW, p1_a=60, p1_b=50, b1_t=20)
    made.engine.core.at = NOW
    return made


@pytest.mark.parametrize(("cleared", "stage"), [(False, 1), (True, 0)])
def test_older_alarms_of_silence_are_given_the_stage_of_their_place(drive, cleared, stage):
    of = drive.engine.core
    drive.advance(NOW + 12 * HOUR)
    record = of.state.alarms[alarm_key("b1", Alarm.SILENT, "b1-t")]
    heap = of.state.alarms[alarm_key("p1", Alarm.SILENT, "p1-a")]
    assert record.on
    assert heap.on
    record.stage = heap.stage = 7
    of.was_cleared = lambda place: cleared
    adopt_stages(of, "b1")
    assert (record.stage, heap.stage) == (stage, 7)
    record.stage, record.on = 7, False
    adopt_stages(of, "b1")
    assert record.stage == 7, "it is not on"


def test_a_seal_lets_each_open_batch_be_worked_out_again_unless_that_failed_before(drive, monkeypatch):
    of, done = drive.engine.core, []
    monkeypatch.setattr("monitor.engine.meaning.adopt_stages", lambda core, place: done.append(place))
    monkeypatch.setattr("monitor.engine.meaning.advance_heaps", lambda core: done.append("worked out"))
    of.marks.clear = lambda: done.append("forgot")
    take_seal(of, {"rework": False})
    assert (done, of.run_at("p1").touched) == ([], None)
    take_seal(of, {})
    assert done == ["forgot", "p1", "p2", "b1", "b2", "worked out"]
    assert of.run_at("p1").touched == T0
    of.run_at("p1").touched = None
    take_seal(of, {"rework": True})
    assert of.run_at("p1").touched == T0


# Heaps -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("rule", "void", "void_told", "status"),
    [
        (RuleState.MET, False, False, HeatStatus.MET),
        (RuleState.RUNNING, True, True, HeatStatus.RUNNING),
        (RuleState.NOT_BEGUN, True, False, HeatStatus.VOID),
        (RuleState.NOT_BEGUN, False, True, HeatStatus.VOID),
        (RuleState.NOT_BEGUN, False, False, HeatStatus.RAW),
    ],
)
def test_the_heat_of_a_batch_as_it_was_told(rule, void, void_told, status):
    assert heat_status(stub(rule=rule, walk=stub(void=void, void_told=void_told))) is status


@pytest.mark.parametrize("past", [False, True])
def test_what_touches_the_past_of_a_walk_is_not_taken_in(past):
    done = []
    walk = stub(
        work_touches_past=lambda at: past, opened=lambda *what: done.append(what), joined=lambda *what: done.append(what),
        added=lambda *what: done.append(what),
    )  # fmt: skip
    heap = Heap(walk, {}, stub())
    assert (heap.opened(5, 7), heap.joined(8), heap.added(9)) == ((not past,) * 3)
    assert done == ([] if past else [(5, 7), (8,), (9,)])


def test_a_round_that_does_not_count_is_noted_of_its_coldest_and_its_hottest():
    noted = []
    Heap(stub(unread=lambda *what: noted.append(what)), {}, stub()).round_unread(5)
    assert sorted(noted) == sorted([(COLDEST, 5), (HOTTEST, 5)])


def test_a_heap_that_began_with_a_reading_begins_with_an_earlier_one_that_came_late():
    piles = {"p1": Pile(name="Bay 1", rule="us-112-54-turned", method=Method.TURNED)}
    drive = Drive(yard(piles=piles, bins={}, probes={"p1-a": core("p1"), "p1-b": core("p1")}))
    drive.hold(NOW, NOW + HOUR, p1_a=50, p1_b=50)
    of = drive.engine.core
    run = of.run_at("p1")
    begun = run.built
    assert begun == NOW
    for number in range(1, 13):
        drive.history.add(Reading(NOW - 10 * MIN * number, "p1-a", 50_000_000, "Cel"))
    of.history = None
    _begin_earlier(of, run, NOW - 2 * HOUR)
    assert run.built == begun, "without a record nothing is known"
    of.history = drive.history
    _begin_earlier(of, run, NOW - 20 * MIN - 1)
    assert run.built == NOW - 20 * MIN, "only what is touched is looked at"
    _begin_earlier(of, run, NOW - 30 * MIN)
    batch = of.state.batches.batches[run.batch]
    assert (run.built, batch.built, batch.spans[0].start) == (NOW - 30 * MIN,) * 3
    _begin_earlier(of, run, NOW - 3 * HOUR)
    assert run.built == NOW - 2 * HOUR


def test_readings_by_hand_from_before_a_heap_is_known_to_have_been_built():
    rows = [
        Reading(time, probe, micro, "Cel")
        for time, probe, micro in (
            (3, "hand:p1", 50_000_000), (4, "hand:p1", 9_000_000_000), (5, "hand:p1", 50_000_000), (6, "hand:p1", 50_000_000)
        )
    ]  # fmt: skip
    asked = []
    record = stub(readings=lambda *what: asked.append(what) or rows)
    hands = {"hand:p1": HandSpot("p1", "", 9, 50_000, 9), "hand:p2": HandSpot("p2", "", 9, 50_000, 9)}
    of = stub(
        history=record, state=stub(hands=hands, withdrawn={"hand:p1": [5], "hand:p2": [6]}),
        settings=yard(),
    )  # fmt: skip
    assert _read_earlier(of, stub(home="p1", built=8), 2) == [3, 6]
    assert asked == [(["hand:p1"], 2, 8)]
    assert _read_earlier(of, stub(home="p3", built=8), 2) == []
    of.history = None
    assert _read_earlier(of, stub(home="p1", built=8), 2) == []
    assert len(asked) == 1


def test_a_corrected_building_moves_the_heap_that_it_began_and_no_other(monkeypatch):
    moved = []
    monkeypatch.setattr(corrections, "rebuild", lambda core, run, built: moved.append((run, built)))

    def heap(name, built, pile):
        return stub(batch=name, built=built, spans=[stub(pile=pile), stub(pile="p9")])

    books = [heap("a", T0, "p1"), heap("b", T0, "p2"), heap("c", T0 + 1, "p1"), heap("gone", T0, "p1")]
    of = stub(state=stub(batches=stub(batches={one.batch: one for one in books}), runs={"a": "A", "b": "B", "c": "C"}))
    _rebuilt(of, Work(time=T0, place="p1", kind=WorkKind.BUILT), T0 + 5)
    assert moved == [("A", T0 + 5)]


# Readings by hand ------------------------------------------------------------------------------------------------


def test_a_reading_by_hand_was_of_the_heap_before_if_it_was_taken_before_this_one_came():
    book = stub(batches={"heap": stub(spans=[stub(start=5), stub(start=9)])}, lying={"p1": "heap"})

    def last(time, held=False):
        return LastRead(time, 0, 0, 1, "", held)

    assert is_of_another_heap(last(8), book, "p1")
    assert not is_of_another_heap(last(9), book, "p1")
    assert not is_of_another_heap(last(8, held=True), book, "p1")
    assert not is_of_another_heap(last(8), book, "p2")


def test_why_a_reading_by_hand_no_longer_counts():
    def why(*, empty=True, held=False, place="p1"):
        hands = {"hand:p1": HandSpot(place, "", 1, 1, 1, held_until=NOW, held=held)}
        return [
            why_not_held(hands, "p1", now, empty=empty) == "of the heap that is gone from here"
            for now in (NOW - 1, NOW)
        ]

    assert why() == [True, False], "it would have counted until then"
    assert why(empty=False) == why(held=True) == why(place="p2") == [False, False]


# Bins ------------------------------------------------------------------------------------------------------------


def a_watch(time, milli=20_000, *, silent=False):
    return stub(accepted_time=time, accepted_milli=milli, silent=silent)


@pytest.fixture
def refilled(monkeypatch):
    """What is done when a bin turns out not to have been emptied, by what was known before."""
    done = []
    monkeypatch.setattr(bin_work, "bed_changes", lambda core, place, changes: done.append(changes))
    monkeypatch.setattr(bin_work, "follow_material", lambda core, place: done.append(("material", place)))
    monkeypatch.setattr(bin_work, "judge_again", lambda core, place, since: done.append(("hand", place, since)))

    def refill(before):
        bed = stub(
            state=stub(before=before, emptied_at=5),
            refill=lambda speaking, at: ("refilled", sorted(speaking), at),
            reading=lambda *what, late: (*what, late),
        )
        watches = {
            "known": a_watch(10), "newer": a_watch(11, 21_000), "first": a_watch(3, 70_000), "quiet": a_watch(12, silent=True),
            "outside": a_watch(12), "unheard": a_watch(None), "no value": a_watch(12, None), "elsewhere": a_watch(12),
        }  # fmt: skip
        probes = {
            name: bedding("b1", Quantity.MOISTURE if name == "first" else Quantity.TEMPERATURE) for name in watches
        }
        here = [(name, probe) for name, probe in probes.items() if name != "elsewhere"]
        spots = {"hand:b1": HandSpot("b1", "", 4, 1, 4), "hand:old": HandSpot("b1", "", 4, 1, 4, held=False)}
        routes = {"known": "route"}
        of = stub(
            at=NOW, bed=lambda place: bed, routes=routes, probes_of=lambda place: [*here, ("never", bedding("b1"))],
            in_service=lambda probe: probe != "outside", settings=stub(probes=probes),
            state=stub(watches=watches, hands=spots),
        )  # fmt: skip
        _refill(of, "b1")
        assert (bed.state.emptied_at, routes) == (None, {})
        return done

    return refill


def test_a_bin_that_was_not_emptied_after_all_is_judged_by_what_was_read_since(refilled):
    before = stub(
        temperatures={"known": stub(time=10), "newer": stub(time=10)}, moistures={"first": stub(time=2)}, at=8
    )
    assert refilled(before) == [
        ("refilled", sorted(["known", "newer", "first", "unheard", "no value", "hand:b1"]), NOW),
        ("first", Quantity.MOISTURE, 3, 70_000, False),
        ("newer", Quantity.TEMPERATURE, 11, 21_000, False),
        ("material", "b1"),
        ("hand", "b1", 8),
    ]


def test_a_bin_of_which_nothing_was_known_before_is_judged_by_all_that_its_probes_say(refilled):
    found = refilled(None)
    assert [one[0] for one in found[1:4]] == ["first", "known", "newer"]
    assert found[-1] == ("hand", "b1", 0)


@pytest.mark.parametrize(("muted", "then"), [(None, None), (NOW, NOW), (NOW + 5, NOW + 5), (NOW + 6, NOW + 5)])
def test_a_mute_ends_sooner_and_never_later(muted, then):
    record = stub(muted_until=muted, state=None, until=None, place="b1")
    waits = []
    of = stub(
        state=stub(alarms={alarm_key("b1", Alarm.OVERHEATING): record}), wait=lambda deadline, due: waits.append(due)
    )
    shorten_mute(of, "b1", Alarm.OVERHEATING, NOW + 5)
    assert record.muted_until == then
    assert waits == ([NOW + 5] if muted == NOW + 6 else [])
    shorten_mute(of, "b2", Alarm.OVERHEATING, NOW + 5)


# Questions -------------------------------------------------------------------------------------------------------


def test_a_depth_is_asked_about_from_a_millimetre_below_what_can_be():
    def asked(place, bed, depth):
        return len([*hardly_so_deep_in(yard(), place, bed, depth)])

    assert (asked("p1", None, REACH_MM), asked("p1", None, REACH_MM + 1)) == (0, 1)
    for bed, most in (
        (BedSpace(rim_mm=400), 400),
        (BedSpace(), DEEPEST_MM),
        (BedSpace(rim_mm=0), DEEPEST_MM),
        (None, DEEPEST_MM),
    ):
        assert (asked("b1", bed, most), asked("b1", bed, most + 1)) == (0, 1), bed


@pytest.mark.parametrize(
    ("whole_log", "past", "compared", "of"),
    [
        (True, None, True, "the log"),
        (True, "known", True, "known"),
        (False, "known", True, "known"),
        (False, None, True, None),
        (True, "known", False, None),
    ],
)
def test_figures_are_compared_with_a_whole_log_or_a_known_past_and_nothing_less(
    monkeypatch, whole_log, past, compared, of
):
    asked = []
    monkeypatch.setattr(entry_questions, "is_compared", lambda kind: compared)
    monkeypatch.setattr(entry_questions, "past_of", lambda entries, sizes, work: [*entries] and "the log")
    monkeypatch.setattr(entry_questions, "implausible", lambda entered: asked.append(entered.past) or ["question"])
    yard_of = stub(whole_log=whole_log, past=past, sizes=None, settings=None, entries=[stub(number=1, work="w")])
    found = [*entry_questions._of_figures(yard_of, stub(kind=WorkKind.FED))]
    assert (asked, found) == (([of], ["question"]) if of else ([], []))


def test_a_lot_takes_what_it_says_or_all_that_was_left():
    tally = StockTally(stub(scales=stub(weigh=lambda name, amount: None)))
    for name in ("straw", "chips", "hay"):
        tally._heaps[name] = Stock(name, left={"kg": 50, "L": 400}, spoken_of=True)
    tally.take(3, Work(time=T0, place="b1", kind=WorkKind.LOT, parts="straw=20 kg; chips; moss=5 kg"))
    assert [tally.of(name).left for name in ("straw", "chips", "hay")] == [
        {"kg": 30}, {"kg": 0, "L": 0}, {"kg": 50, "L": 400}
    ]  # fmt: skip


# Texts on request ------------------------------------------------------------------------------------------------


def test_a_text_is_written_for_the_instant_at_which_it_is_read():
    desk = stub(away=lambda *what: what, watched_words=lambda at: at)
    of = stub(at=NOW, desk=desk)
    assert away_text(of, NOW - 1, T0) == (NOW - 1, T0)
    assert of.at == NOW
    assert away_text(of, NOW + 1, T0) == (NOW + 1, T0)
    assert of.at == NOW + 1
    assert watched_text(of, NOW) == NOW
    assert of.at == NOW + 1
    assert watched_text(of, NOW + 2) == NOW + 2
    assert of.at == NOW + 2


def test_before_people_go_each_probe_is_named_with_its_place_and_its_last_word(monkeypatch):
    monkeypatch.setattr("monitor.engine.output.summaries.falling_due", lambda core, at: [])
    of = stub(
        at=NOW, settings=stub(probes={"b": 1, "a": 1, "c": 1}, site=stub(time_zone="UTC")),
        place_of={"a": "p1", "b": "b1", "c": ""}.get, state=stub(watches={"a": stub(newest=5)}),
        desk=stub(leaving=lambda *what: what),
    )  # fmt: skip
    at, facts = leaving_text(of, NOW + 1, None)
    assert (at, of.at, facts.due.lines) == (NOW + 1, NOW + 1, ())
    assert [(one.probe, one.place, one.last) for one in facts.probes] == [("a", "p1", 5), ("b", "b1", None)]
    leaving_text(of, NOW, [])
    assert of.at == NOW + 1


def test_the_engine_hands_on_texts_and_test_messages(drive):
    engine = drive.engine
    assert "Tern Hollow" in engine.test_notice(NOW, "ann")
    with pytest.raises(KeyError):
        engine.test_notice(NOW, "nobody")
    assert engine.while_you_were_away(NOW + 1, T0)
    assert "2 places" in engine.watched_words(NOW)
    assert engine.before_you_go(NOW, [])
    assert engine.alone("p1") == ""
