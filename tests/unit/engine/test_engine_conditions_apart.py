"""Conditions of several parts, each part decided alone: what has to be so, and what makes it otherwise."""

from types import SimpleNamespace

import pytest
from engine_yard import HOUR, T0, bedding, core, yard

from monitor.engine.asking import entry_questions, turning_ahead
from monitor.engine.asking.entry_questions import _begun_by, _of_building, _others_like, _same_building
from monitor.engine.context import batch_runs
from monitor.engine.context.batch_feeder import Heap
from monitor.engine.context.dangerous_heat import Danger
from monitor.engine.context.read_spots import HandSpot
from monitor.engine.hand import hand_doubts
from monitor.engine.handlers.imports import _stuck
from monitor.model.bounds import LOWEST, Side, Span
from monitor.model.readings import Reading
from monitor.model.units import Quantity
from monitor.model.words import Method, RuleState
from monitor.model.work import Work, WorkKind
from monitor.piles import ROUND_MS, OutingState

NOW = T0 + 6 * HOUR


def stub(**more):
    return SimpleNamespace(**more)


# Probes that a turning took out ----------------------------------------------------------------------------------


def stuck(outing, *, also=(), turnings=(NOW,), at=NOW + HOUR, place="p1", presumed=()):
    piles = {"p1": stub(thresholds=stub(settle_ms=HOUR))}
    of = stub(
        at=at, stuck={*also}, pile=piles.get, place_of=lambda probe: place,
        state=stub(outings={"x": outing}, presumed_back=[*presumed]),
    )  # fmt: skip
    return _stuck(of, turnings)


def test_a_probe_is_stuck_outside_if_a_turning_took_it_out_and_nothing_shows_it_back():
    out = OutingState(out=NOW)
    assert stuck(out) == [("x", NOW)]
    assert stuck(out, at=NOW + HOUR - 1) == [], "it may yet settle"
    assert stuck(out, turnings=(NOW + 1,)) == [], "another turning"
    assert stuck(out, place="b1") == [], "no heap"
    assert stuck(out, presumed=[("x", NOW)]) == [], "presumed back before"
    assert stuck(OutingState(out=None)) == []
    assert stuck(OutingState(out=NOW, with_cores=True)) == []
    assert stuck(OutingState(out=NOW, taken=True)) == [], "somebody took it out"
    assert stuck(OutingState(out=None), also=[("y", NOW), ("a", NOW)]) == [("a", NOW), ("y", NOW)]


@pytest.mark.parametrize(
    ("outing", "counts"),
    [
        (None, True),
        (OutingState(out=5), False),
        (OutingState(out=None, accepted_from=None), False),
        (OutingState(out=None, accepted_from=10), True),
        (OutingState(out=None, accepted_from=11), False),
        (OutingState(out=5, accepted_from=None), False),
        (OutingState(out=5, accepted_from=10), False),
    ],
)
def test_an_instant_of_which_no_value_counts_is_noted_of_a_probe_that_is_in(outing, counts):
    noted = []
    heap = Heap(stub(unread=lambda *what: noted.append(what)), {} if outing is None else {"x": outing}, stub())
    heap.unread("x", 10)
    assert noted == ([("x", 10)] if counts else [])


# Fire and calm ---------------------------------------------------------------------------------------------------


def a_danger(flagged, *, is_open=False):
    made = Danger.__new__(Danger)
    made.limits = stub(fire_milli_c=80_000)
    made.state = stub(flagged={} if flagged is None else {"x": flagged}, newest={}, open=is_open)
    made._calm = 65_000
    made.done = []
    made._speaks = lambda probe: made.done.append(("speaks", probe))
    made._judge = lambda now, late, *, only_fire: [("judged", now, late, only_fire)]
    made.flagged = lambda *what: [("flagged", *what)]
    return made


@pytest.mark.parametrize(
    ("flagged", "milli", "fire"),
    [(1, 80_000, True), (2, 90_000, True), (1, 79_999, False), (0, 80_000, False), (None, 80_000, False)],
)
def test_two_readings_in_a_row_at_fire_heat_are_a_fire_though_nobody_knows_their_time(flagged, milli, fire):
    danger = a_danger(flagged)
    found = danger.untimed("x", NOW, milli)
    if fire:
        assert found == [("judged", NOW, False, True)]
        assert (danger.state.flagged["x"], danger.state.newest, danger.done) == (
            flagged + 1,
            {"x": milli},
            [("speaks", "x")],
        )
    else:
        assert found == [("flagged", "x", NOW, milli, False)]
        assert (danger.state.newest, danger.done) == ({}, [])


def test_a_heap_of_which_nothing_has_begun_is_calm_below_its_lowest_limit():
    (span,) = a_danger(0).calm().spans
    assert span == Span(Side.HIGH, LOWEST, 64_999)
    assert a_danger(0, is_open=True).calm() is None


# Turnings that a rule counts -------------------------------------------------------------------------------------


def ahead(
    monkeypatch,
    *,
    method=Method.TURNED,
    rule=RuleState.RUNNING,
    rule_id="r",
    hold=T0,
    needed=5,
    wants=True,
    left=3,
    **more,
):
    progress = stub(values=1, wants_turnings=wants, turnings_left=left, days_left=4, turnings_apart_ms=0)
    if "progress" in more:
        progress = more["progress"]
    monkeypatch.setattr(turning_ahead, "progress_now", lambda run: progress)
    monkeypatch.setattr(turning_ahead, "turning_waits", lambda run: more.get("waits", False))
    monkeypatch.setattr(turning_ahead, "Progress", stub(of=lambda values: stub(turnings_needed=needed)))
    asked = []
    monkeypatch.setattr(turning_ahead, "next_turning", lambda *what: asked.append(what) or more.get("due", NOW + HOUR))
    monkeypatch.setattr(turning_ahead, "say_time", lambda at, now, zone: str(at - NOW))
    run = stub(method=method, rule=rule, rule_id=rule_id, walk=stub(first_hold=hold))
    of = stub(settings=stub(site=stub(time_zone="UTC")), thresholds_of=lambda run: stub(turning_every_ms=7))
    return [*turning_ahead._counts(of, run, stub(time=more.get("time", NOW)), NOW)], asked


def test_a_turning_is_counted_ahead_where_its_rule_wants_it(monkeypatch):
    said, asked = ahead(monkeypatch)
    assert said == [
        "It is turning 3 of 5, and counts when the heap is back at temperature.", f"The next is due {HOUR}."
    ]  # fmt: skip
    assert asked == [(NOW, 2, 4, 0, NOW, 7)]
    assert ahead(monkeypatch, time=T0 - 5)[1][0][0] == T0, "days count from the first hold"
    assert ahead(monkeypatch, due=NOW - 5)[0][1] == "The next is due 0."
    assert ahead(monkeypatch, waits=True)[0][0].startswith("It is turning 4 of 5")
    assert ahead(monkeypatch, left=1)[0] == [
        "It is turning 5 of 5, and counts when the heap is back at temperature.", "Its rule wants no more after it."
    ]  # fmt: skip


@pytest.mark.parametrize(
    "more",
    [
        {"method": Method.STATIC},
        {"rule": RuleState.MET},
        {"rule_id": "none"},
        {"needed": None},
        {"wants": False},
        {"left": 0},
        {"left": 1, "waits": True},
    ],
)  # fmt: skip
def test_a_turning_that_no_rule_wants_is_not_counted(monkeypatch, more):
    assert ahead(monkeypatch, **more)[0] == []


@pytest.mark.parametrize("more", [{"progress": None}, {"hold": None}])
def test_a_turning_before_the_first_instant_at_temperature_does_not_count(monkeypatch, more):
    (said,) = ahead(monkeypatch, **more)[0]
    assert "only after the heap's first instant at temperature" in said


@pytest.mark.parametrize(
    ("recovering", "near", "met", "span", "counted", "own", "waits"),
    [
        (True, True, None, 1, 2, 1, True),
        (True, True, None, 1, 1, 1, False),
        (False, True, None, 1, 2, 1, False),
        (True, False, None, 1, 2, 1, False),
        (True, True, 5, 1, 2, 1, False),
        (True, True, None, None, 2, 1, False),
    ],
)
def test_a_turning_waits_for_heat_if_its_rule_would_count_it(
    monkeypatch, recovering, near, met, span, counted, own, waits
):
    part = stub(met_at=met, span=span, turnings=own)
    way = stub(parts=["part"], state=stub(parts=[part], situation=stub(turnings=[])))
    monkeypatch.setattr(batch_runs, "nearest_way", lambda run: way if near else None)
    monkeypatch.setattr(batch_runs, "turnings_of", lambda part: part)
    monkeypatch.setattr(batch_runs, "counted_turnings", lambda *what: [0] * counted)
    assert batch_runs.turning_waits(stub(walk=stub(recovering=recovering, now=NOW))) is waits


# Readings by hand ------------------------------------------------------------------------------------------------


def test_readings_of_one_place_within_an_hour_in_degrees_are_of_one_round():
    of = stub(settings=stub(place_of_hand={"a": ("p1", "top"), "b": ("p1", ""), "c": ("p2", "")}.get))

    def together(one, other, apart, unit="Cel"):
        return hand_doubts._of_round(of, Reading(NOW + apart, one, 1, unit), Reading(NOW, other, 1, "Cel"))

    assert all(together("a", "b", apart) for apart in (0, ROUND_MS, -ROUND_MS))
    assert not any(together("a", "b", apart) for apart in (ROUND_MS + 1, -ROUND_MS - 1))
    assert not together("a", "c", 0)
    assert not together("a", "gone", 0)
    assert not together("gone", "a", 0)
    assert not together("gone", "lost", 0), "nobody knows where either is"
    assert not together("a", "b", 0, "%")


def test_a_spot_may_be_colder_because_it_was_stirred_or_is_another_spot():
    known = HandSpot("p1", "", NOW, 60_000, NOW)

    def reason(*works, probe="hand:p1:top", after=2 * ROUND_MS):
        return hand_doubts._is_reason(works, Reading(NOW + after, probe, 1, "Cel"), known)

    def work(kind, time, place="p1", **more):
        return Work(time=time, place=place, kind=kind, **more)

    assert not reason()
    assert reason(probe="hand:p1", after=ROUND_MS)
    assert not reason(probe="hand:p1", after=ROUND_MS + 1)
    assert not reason(after=ROUND_MS)
    for at, so in ((NOW - 1, False), (NOW, True), (NOW + 2 * ROUND_MS, True), (NOW + 2 * ROUND_MS + 1, False)):
        assert reason(work(WorkKind.TURNED, at)) is so, at
        assert reason(work(WorkKind.ADDED, at)) is so, at
    assert not reason(work(WorkKind.TURNED, NOW, "p2"))
    assert reason(work(WorkKind.SPLIT, NOW, "p2", to="p1"))
    assert not reason(work(WorkKind.PROBE_OUT, NOW, probe="x"))


# Entries ---------------------------------------------------------------------------------------------------------


def test_another_probe_speaks_for_a_place_if_it_measures_the_same_there_and_is_in():
    probes = {
        "own": core("p1"), "same": core("p1"), "other place": core("p2"), "damp": core("p1", quantity=Quantity.MOISTURE),
        "bedding": bedding("p1"),
    }  # fmt: skip
    outings = {"same": OutingState(out=5)}
    of = stub(
        settings=stub(probes=probes), state=stub(outings=outings), place_of=lambda probe: probes[probe].place,
    )  # fmt: skip
    assert [*_others_like(of, "own", "p1")] == ["same"], "a walk follows one that is out for a turning"
    probes["bedding 2"] = bedding("p1")
    assert [*_others_like(of, "bedding", "p1")] == ["bedding 2"]
    outings["bedding 2"] = OutingState(out=5)
    assert [*_others_like(of, "bedding", "p1")] == []
    outings["bedding 2"] = OutingState(out=None)
    assert [*_others_like(of, "bedding", "p1")] == ["bedding 2"]


def a_heap(built=NOW):
    return stub(batch="heap", built=built, spans=[stub(pile="p1"), stub(pile="p2")])


def test_a_heap_was_begun_by_the_building_of_its_first_pile_at_its_instant():
    def built(time=NOW, place="p1", kind=WorkKind.BUILT):
        return _begun_by(a_heap(), Work(time=time, place=place, kind=kind))

    assert built() is True
    assert not built(time=NOW + 1)
    assert not built(place="p2")
    assert not built(kind=WorkKind.TURNED)
    assert not _begun_by(a_heap(), None)


def test_a_building_is_logged_already_if_an_entry_says_so_of_that_place_and_instant():
    def entry(time=NOW, place="p1", kind=WorkKind.BUILT):
        return stub(entries=[stub(work=Work(time=time, place=place, kind=kind))])

    mine = Work(time=NOW, place="p1", kind=WorkKind.BUILT)
    assert _same_building(stub(entries=[]), mine)
    assert not _same_building(entry(), mine)
    assert _same_building(entry(time=NOW + 1), mine)
    assert _same_building(entry(place="p2"), mine)
    assert _same_building(entry(kind=WorkKind.ADDED), mine)


def test_a_building_is_asked_about_where_a_heap_lies_or_lay(monkeypatch):
    monkeypatch.setattr(entry_questions, "_ends", lambda yard, place: "it would end.")
    monkeypatch.setattr(entry_questions, "_begun", lambda yard, heap: "was built")

    def asked(then, now, *, time=NOW, instead=None, entries=()):
        of = stub(name=lambda place: "Bay 1", when=lambda at: "then", instead=instead, entries=entries)
        return [*_of_building(of, Work(time=time, place="p1", kind=WorkKind.BUILT), then, now)]

    heap = a_heap()
    mine = Work(time=NOW, place="p1", kind=WorkKind.BUILT)
    assert asked(None, None) == []
    assert asked(None, heap, time=NOW - 1) == [
        "Bay 1 holds a heap that was built then; this is earlier. Is the time right?"
    ]
    assert asked(heap, heap, time=NOW + 1) == ["Bay 1 holds a heap that was built then: it would end. Is that so?"]
    assert asked(heap, None, time=NOW + 1) == asked(heap, heap, time=NOW + 1)
    assert asked(heap, heap) == [], "the log may say once what the configuration says"
    assert len(asked(heap, heap, entries=[stub(work=mine)])) == 1
    assert len(asked(None, heap)) == 1
    assert asked(heap, heap, time=NOW + 1, instead=mine) == [], "its beginning is put right"


def test_the_heap_that_lay_there_then_is_asked_about(monkeypatch):
    asked = []
    monkeypatch.setattr(
        entry_questions, "material_doubts", lambda settings, entries, work, on: asked.append((entries, on("p1"))) or []
    )
    monkeypatch.setattr(entry_questions, "heap_name_doubts", lambda *what: [])
    for heap, name in ((None, ""), (a_heap(), "heap")):
        for whole, entries in ((True, [(1, "w")]), (False, [])):
            of = stub(
                core=stub(batches=stub(at=lambda *what, heap=heap: heap if what == ("p1", NOW) else "wrong")), settings=yard(),
                whole_log=whole, entries=[stub(number=1, work="w")], state=stub(batches=stub(batches={})),
            )  # fmt: skip
            assert [*entry_questions._of_material(of, Work(time=NOW, place="p2", kind=WorkKind.ADDED))] == []
            assert asked[-1] == (entries, name)
