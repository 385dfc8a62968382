"""What the engine seldom does, further pieces: what is taken back, answers that say nothing, figures, texts foreseen."""

from fractions import Fraction
from types import SimpleNamespace

import pytest
from engine_yard import HOUR, T0, Drive, bedding, core, yard

from monitor.alarms import AlarmRecord
from monitor.engine.asking import answerable, foreseen
from monitor.engine.asking.answerable import why_unanswerable
from monitor.engine.asking.implausible_amounts import FAR_MORE_COUNTED, counted_too_many
from monitor.engine.batches import batch_effects
from monitor.engine.context.read_spots import HandSpot
from monitor.engine.hand import hand_limits
from monitor.engine.handlers import absences, imports, link_news
from monitor.engine.probes import probes_outside
from monitor.engine.records import batch_lookup
from monitor.model.amounts import known_amount
from monitor.model.events import Answer, Event, EventKind
from monitor.model.settings import Pile
from monitor.model.words import AlarmState, RuleState
from monitor.model.work import Work, WorkKind
from monitor.piles import OutingState

NOW = T0 + 6 * HOUR


def stub(**more):
    return SimpleNamespace(**more)


# Links and absences ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("up", "told", "why", "then", "said"),
    [
        (False, True, "refused", "refused", ["broker"]),
        (False, False, "refused", "refused", []),
        (False, True, "away", "away", []),
        (True, True, "refused", "away", []),
    ],
)
def test_another_reason_of_a_link_that_is_down_is_told_where_the_first_was(monkeypatch, up, told, why, then, said):
    found = []
    monkeypatch.setattr(link_news, "_tell", lambda core, name, known: found.append(name))
    known = stub(up=up, told=told, why="away")
    link_news._renew_reason(stub(), "broker", known, why)
    assert (known.why, found) == (then, said)


def test_an_absence_is_taken_back_or_replaced_by_its_own_entry(monkeypatch):
    done = []
    monkeypatch.setattr(absences, "take_absence", lambda core, right: done.append(("away", right)))
    monkeypatch.setattr(absences, "_follow", lambda core: done.append("follow"))
    known = [stub(at=5, row=0), stub(at=7, row=1)]
    of = stub(state=stub(desk=stub(absences=known)), desk=stub(present=lambda *what: done.append(("back", *what))))
    for at, row in ((5, 1), (6, 0), (7, 0)):
        assert absences.correct_absence(of, at, row, None) is False
    assert done == []
    assert absences.correct_absence(of, 7, 1, None) is True
    assert absences.correct_absence(of, 5, 0, "right") is True
    assert done == [("back", 7, 1), "follow", ("back", 5, 0), ("away", "right"), "follow"]


# Turnings --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("mute_ms", "muted"), [(HOUR - 1, False), (HOUR, False), (HOUR + 1, True)])
@pytest.mark.parametrize("fell_at", [None, NOW - 2 * HOUR])
def test_a_turning_is_suggested_and_its_heap_muted_for_what_is_left_of_a_while(monkeypatch, mute_ms, muted, fell_at):
    told, mutes = [], []
    monkeypatch.setattr(batch_effects, "_tell", lambda *what: told.append(what[2:]))
    monkeypatch.setattr(batch_effects, "mute", lambda core, place, until, **more: mutes.append((place, until, more)))
    of = stub(
        at=NOW, pile_of=lambda run: "p1", thresholds_of=lambda run: stub(suggested_mute_ms=mute_ms),
        probes_of=lambda place: [("p1-a", None), ("p1-b", None)],
    )  # fmt: skip
    batch_effects._suggest(of, stub(), stub(since=NOW - HOUR, fell_at=fell_at, hottest_milli=61_000))
    ((notice, _, facts),) = told
    assert (notice, facts.value_milli, facts.now) == ("suggested-turning", 61_000, NOW)
    assert facts.since == (NOW - HOUR if fell_at is None else fell_at)
    assert mutes == ([("p1", NOW + 1, {"probes": ("p1-a", "p1-b")})] if muted else [])


def test_a_turning_that_is_taken_back_puts_in_what_it_took_out(monkeypatch):
    done = []
    monkeypatch.setattr(probes_outside, "_put_in", lambda core, probe, back: done.append(("in", probe, back)))
    monkeypatch.setattr(probes_outside, "_as_logged", lambda core, probe: done.append(("log", probe)))
    monkeypatch.setattr(probes_outside, "_others", lambda core, place: ["m1", "m2", "m3", "m4"])
    monkeypatch.setattr(probes_outside, "_walks", lambda core, probe: probe == "core")
    outings = {
        "m1": OutingState(out=NOW, with_cores=True), "m2": OutingState(out=NOW - 1, with_cores=True),
        "m3": OutingState(out=NOW, with_cores=False),
    }  # fmt: skip
    of = stub(state=stub(outings=outings), settings=stub(probes={"core": 1, "m1": 1}))
    probes_outside.unfollow_work(of, Work(time=NOW, place="p1", kind=WorkKind.TURNED))
    assert done == [("in", "m1", None)]
    for probe in ("core", "gone", "m1"):
        probes_outside.unfollow_work(of, Work(time=NOW, place="p1", kind=WorkKind.PROBE_OUT, probe=probe))
    assert done[1:] == [("log", "m1")]


@pytest.mark.parametrize("place", ["b1", "p1", "p2", "gone"])
def test_a_probe_that_is_set_aside_speaks_for_neither_bed_nor_heap(monkeypatch, place):
    done = []
    monkeypatch.setattr(probes_outside, "fall_quiet", lambda core, probe, place: done.append(("quiet", probe, place)))
    monkeypatch.setattr(probes_outside, "bed_changes", lambda core, place, found: done.append(found))
    monkeypatch.setattr(
        probes_outside, "danger_signals", lambda core, place, danger, found: done.append((place, found))
    )
    danger = stub(silent=lambda probe: done.append(("heap", probe)))
    of = stub(
        at=NOW, settings=yard(), state=stub(dangers={"p1": 1, "gone": 1}), danger=lambda place: danger,
        bed=lambda place: stub(silent=lambda probe, at: ("bed", probe, at)),
    )  # fmt: skip
    probes_outside._set_aside(of, "x", place)
    then = {"b1": [("bed", "x", NOW)], "p1": [("heap", "x"), ("p1", [])]}.get(place, [])
    assert done == [("quiet", "x", place), *then]


def test_imported_turnings_touch_the_heaps_that_lay_there_and_then_those_of_probes_that_stay_out(monkeypatch):
    touched, found = [], [[("x", 30), ("y", 20)], []]
    monkeypatch.setattr(imports, "touch", lambda run, at: touched.append((run, at)))
    monkeypatch.setattr(imports, "advance_heaps", lambda core: touched.append("on"))
    monkeypatch.setattr(imports, "_stuck", lambda core, turnings: found.pop(0))
    spans = {
        "before": [("p", 0, 20)],
        "there": [("p", 20, 21)],
        "from": [("p", 5, 6), ("p", 30, 90)],
        "after": [("p", 31, 99)],
    }
    stuck = {1}
    of = stub(
        state=stub(runs={name: name for name in spans}, presumed_back=[("w", 1)]), spans_of=spans.get,
        probes_ever=lambda run: {"after": ["y"], "there": ["z"]}.get(run, []), stuck=stuck,
    )  # fmt: skip
    imports._settle_outings(of, [30, 20])
    assert touched == [("there", 20), ("from", 20), "on", ("after", 20), "on"]
    assert of.state.presumed_back == [("w", 1), ("x", 30), ("y", 20)]
    assert stuck == set()


# Readings by hand ------------------------------------------------------------------------------------------------


def test_a_reading_that_is_taken_back_leaves_the_one_before_it(monkeypatch):
    known = HandSpot("gone", "", NOW, 60_000, NOW, by="Ann", held_until=NOW + HOUR)
    of = stub(at=NOW + 5, state=stub(hands={"hand:gone": known}))
    monkeypatch.setattr(hand_limits, "_standing_before", lambda core, series, time: stub(time=NOW - 7, milli=50_000))
    hand_limits._withdraw_unseen(of, "hand:gone", known)
    assert (known.time, known.milli, known.at, known.by) == (NOW - 7, 50_000, NOW + 5, "")
    assert known.held_until == NOW - 7 + HOUR
    assert [*of.state.hands] == ["hand:gone"]
    monkeypatch.setattr(hand_limits, "_standing_before", lambda core, series, time: None)
    hand_limits._withdraw_unseen(of, "hand:gone", known)
    assert of.state.hands == {}


# Answers ---------------------------------------------------------------------------------------------------------


def a_state(record=None, *, telling=None, shut=None, **others):
    alarms = {"b1/overheating": record} if record is not None else {}
    desk = stub(
        tellings={} if telling is None else {"b1/overheating": stub(answered_by=telling)},
        out_of_service={} if shut is None else {"b1/overheating": stub(by=shut)},
    )
    return stub(alarms=alarms | others, desk=desk)


def an_alarm(state, *, since=T0, latent=False, alarm="overheating"):
    return AlarmRecord(place="b1", alarm=alarm, state=state, since=since, latent=latent)


def why(state, answer=Answer.SEEN):
    return why_unanswerable(state, "b1/overheating", answer)


def test_an_alarm_that_never_rang_is_told_with_those_that_are_open():
    assert why(a_state()) == '"b1/overheating" has not rung; no alarm is open'
    assert why(a_state(an_alarm(AlarmState.NORMAL, since=0))) == '"b1/overheating" has not rung; no alarm is open'
    others = {
        "z": an_alarm(AlarmState.ACKNOWLEDGED), "y": an_alarm(AlarmState.RETURNED), "x": an_alarm(AlarmState.SUPPRESSED),
        "w": an_alarm(AlarmState.NORMAL), "v": an_alarm(AlarmState.SHELVED, alarm="no such kind"),
    }  # fmt: skip
    assert why(a_state(**others)).endswith("has not rung; open are y, z")


def test_an_answer_that_changes_something_is_taken():
    assert why(a_state(an_alarm(AlarmState.UNACKNOWLEDGED))) == ""


def test_an_answer_that_says_nothing_is_told_who_said_so_before():
    assert why(a_state(an_alarm(AlarmState.NORMAL))).startswith('"b1/overheating" is over;')
    assert "has not rung yet" in why(a_state(an_alarm(AlarmState.NORMAL, latent=True)))
    assert "has been seen already by Ann;" in why(a_state(an_alarm(AlarmState.ACKNOWLEDGED), telling="Ann", shut="Bo"))
    assert "has been seen already;" in why(a_state(an_alarm(AlarmState.ACKNOWLEDGED), telling="", shut="Bo"))
    assert "is out of service by Bo;" in why(a_state(an_alarm(AlarmState.OUT_OF_SERVICE), shut="Bo"))
    assert "is out of service;" in why(a_state(an_alarm(AlarmState.OUT_OF_SERVICE)))
    shelved = why(a_state(an_alarm(AlarmState.SHELVED), telling="Ann"))
    assert "has been put off by Ann;" in shelved
    assert shelved.endswith(": take it up again first")
    assert not why(a_state(an_alarm(AlarmState.SUPPRESSED))).endswith("first")
    assert answerable._open(a_state()) == "no alarm is open"


# Figures ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("count", "asks"), [("30", False), ("30.001", True), ("300", True)])
@pytest.mark.parametrize(("left", "most"), [(10, 4), (4, 10), (None, 10)])
def test_a_count_of_more_than_three_times_all_that_can_be_is_asked_about(count, asks, left, most):
    assert FAR_MORE_COUNTED == 3
    amount = known_amount(count, "", "kg")
    heap = stub(name="straw", most={"kg": Fraction(most)}, left={} if left is None else {"kg": Fraction(left)})
    stock = stub(of=lambda what: heap, terms=lambda what, said: {said.unit: said.count})
    work = Work(time=T0, place="yard", kind=WorkKind.COUNTED, what="straw", amount=count, unit="kg")
    entered = stub(amount=amount, work=work, past=stub(stock=stock), us=False, sizes=None)
    assert len([*counted_too_many(entered)]) == asks
    entered.amount = None
    assert [*counted_too_many(entered)] == []
    entered.amount, heap.most = amount, {"L": Fraction(1)}
    assert [*counted_too_many(entered)] == []
    stock.of = lambda what: None
    assert [*counted_too_many(entered)] == [], "none was ever in stock"


# What is foreseen ------------------------------------------------------------------------------------------------


def test_the_probes_that_go_along_are_named():
    probes = {"a": core("p1", name="Long one"), "b": core("p1"), "c": core("p1")}
    for cores, words in (
        ([], ""), (["gone"], ""), (["a"], " and its probe Long one"), (["gone", "b"], " and its probe b"),
        (["a", "b"], " and its probes Long one and b"),
    ):  # fmt: skip
        of = stub(settings=stub(probes=probes), cores_of=lambda place, cores=cores: cores)
        assert foreseen._probes(of, "p1") == words


def test_where_nothing_lies_a_heap_begins_and_its_rule_counts_if_it_has_one():
    of = stub(settings=yard(piles={"p1": Pile(name="Bay 1", rule="us-112-54-turned"), "p2": Pile(name="Bay 2")}))

    def begins(kind, place="p1"):
        return [*foreseen._begins(of, Work(time=T0, place=place, kind=kind))]

    assert begins(WorkKind.ADDED) == ["A heap begins with it."]
    assert begins(WorkKind.BUILT) == ["A heap begins; its rule counts from its first instant at temperature."]
    assert begins(WorkKind.BUILT, "p2") == ["A heap begins."]
    assert begins(WorkKind.TURNED) == []


def test_what_comes_into_the_yard_is_foreseen_by_its_kind():
    def of_yard(kind, **more):
        return [*foreseen._of_yard(None, Work(time=T0, place="yard", kind=kind, **more), NOW)]

    assert of_yard(WorkKind.DELIVERY, refused="yes") == ["What was refused is no stock."]
    (plain,) = of_yard(WorkKind.DELIVERY, risk="none")
    (unknown,) = of_yard(WorkKind.DELIVERY)
    (named,) = of_yard(WorkKind.DELIVERY, risk="weed seed")
    assert plain == "It adds to the stock."
    assert named.endswith("heap, bed and lot.")
    assert "nobody knows" in unknown
    assert of_yard(WorkKind.COUNTED) == ["From then on that is the stock of the material."]
    assert of_yard(WorkKind.TESTED, result="passed") == []
    assert len(of_yard(WorkKind.TESTED, result="failed")) == 1
    assert of_yard(WorkKind.TURNED) == []


@pytest.mark.parametrize(
    ("rule", "what", "lost", "said"),
    [
        (RuleState.RUNNING, "", None, "By raw material it becomes raw again and loses 2 days."),
        (RuleState.MET, "", None, "By raw material it becomes raw again and loses 2 days; what has met"),
        (RuleState.RUNNING, "straw", "lost", "It becomes raw again and loses 2 days."),
        (RuleState.RUNNING, "straw", None, "What its rule has counted so far stays."),
    ],
)
def test_what_a_heap_loses_by_material_is_foreseen(monkeypatch, rule, what, lost, said):
    monkeypatch.setattr(foreseen, "lost_by", lambda core, work: lost)
    monkeypatch.setattr(foreseen, "so_far_words", lambda run: "2 days of its rule")
    work = Work(time=T0, place="p1", kind=WorkKind.ADDED, what=what)
    (found,) = foreseen._takes_in(None, work, stub(rule=rule))
    assert found.startswith(said)
    monkeypatch.setattr(foreseen, "so_far_words", lambda run: "")
    assert [*foreseen._takes_in(None, work, stub(rule=rule))] == []


# The whole log once more -----------------------------------------------------------------------------------------


def test_the_whole_log_is_taken_in_by_the_kind_of_each_event(monkeypatch):
    taken = []
    for name in ("take_settings", "take_correction", "take_work"):
        monkeypatch.setattr(batch_lookup, name, lambda core, *what, name=name: taken.append((name, *what)))
    for kind in (EventKind.SETTINGS, EventKind.CORRECTION, EventKind.WORK, EventKind.READINGS):
        batch_lookup._take(None, Event(NOW, kind, {"a": 1}))
    batch_lookup._take(None, Event(NOW, EventKind.IMPORTED, {"work": ["x", "y"]}))
    batch_lookup._take(None, Event(NOW, EventKind.IMPORTED, {"rows": []}))
    assert taken == [
        ("take_settings", {"a": 1}), ("take_correction", {"a": 1}), ("take_work", {"a": 1}),
        ("take_work", "x", 0), ("take_work", "y", 1),
    ]  # fmt: skip


def test_a_heap_that_began_with_a_reading_is_there_when_the_log_is_taken_in_once_more(monkeypatch):
    piles = {name: Pile(name=name) for name in ("p1", "p2")}
    drive = Drive(yard(piles=piles, bins={}, probes={"p1-a": core("p1"), "b": bedding("b1")}))
    drive.hold(NOW, NOW + HOUR, p1_a=50)
    drive.work(NOW + HOUR + 1, "p1", "watered")
    events = [
        Event(T0 - 1, EventKind.SETTINGS, {"settings": drive.settings}),
        Event(NOW, EventKind.WORK, {"time": NOW, "place": "p1", "kind": "moved", "to": "p2"}),
    ]
    whole = batch_lookup.whole_record(drive.engine.state, events)
    assert (whole.quiet, whole.keeps_all, whole.effects, whole.at) == (True, True, [], NOW)
    assert [(one.at, one.work.kind) for one in whole.state.works] == [(NOW, WorkKind.MOVED)], "it lay there just then"
    assert whole.state.batches is drive.engine.state.batches
    assert whole.state.runs == drive.engine.state.runs
    assert whole.state.runs is not drive.engine.state.runs
    monkeypatch.setattr(batch_lookup, "_told_again", lambda core, state: None)
    moved = batch_lookup.whole_record(drive.engine.state, events)
    assert moved.state.batches.lying["p2"].startswith("p1-")
    events[1] = Event(NOW - 1, EventKind.WORK, events[1].payload)
    early = batch_lookup.whole_record(drive.engine.state, events)
    assert early.state.batches.lying["p2"].startswith("p2-"), "nobody knew of one yet"
