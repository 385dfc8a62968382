"""Conditions of a bed in words, and alarms that a late reading would ring though a person has read the place since."""

import pytest
from engine_yard import HOUR, MIN, T0, Drive, air, bedding, core, yard

from monitor.bins import ConditionChange
from monitor.engine.context.agenda import Deadline, DueKind
from monitor.engine.context.read_spots import HandSpot
from monitor.engine.output.place_conditions import _ends_last, _is_past, bed_changes
from monitor.model.alarm_kinds import Alarm
from monitor.model.alarm_signals import AlarmSignal
from monitor.model.alarm_values import AlarmValues
from monitor.model.words import Thermal
from monitor.piles import OutingState

NOW = T0 + 2 * HOUR


@pytest.fixture
def drive():
    made = Drive(yard(probes={"p1-a": core("p1"), "b1-t": bedding("b1"), "b1-u": bedding("b1"), "air": air()}))
    made.hold(T0, NOW, p1_a=60, b1_t=20, b1_u=21, air=10)
    made.engine.core.at = NOW
    return made


@pytest.fixture
def of(drive):
    return drive.engine.core


def change(after, before=Thermal.COMFORT, probe="b1-t", milli=12_000, axis="thermal"):
    return ConditionChange(axis=axis, before=before, after=after, since=NOW - MIN, probe=probe, milli=milli)


def told(of, one, place="b1"):
    """Return the condition's effect, and the lines that it brings into the digest."""
    of.effects.clear()
    of.state.desk.lines.clear()
    bed_changes(of, place, [one])
    (draft,) = [effect.draft for effect in of.effects if effect.draft.kind.value == "condition"]
    return draft, [line.text for line in of.state.desk.lines]


@pytest.mark.parametrize(
    ("after", "word"), [(Thermal.COOL, "cool"), (Thermal.COLD, "cold"), (Thermal.WARM, "warm"), (Thermal.COMFORT, "")]
)
def test_a_bed_that_leaves_its_comfort_is_a_line_of_the_digest(of, after, word):
    draft, lines = told(of, change(after, before=Thermal.UNKNOWN))
    shown = "in comfort" if after is Thermal.COMFORT else after.value
    assert draft.why == f"Sunny bin is {shown} (probe b1-t)."
    assert (draft.before, draft.after, draft.since, draft.reason) == ("unknown", after.value, NOW - MIN, "reading")
    assert (draft.probe, draft.axis, draft.values) == ("b1-t", "thermal", {"value": 12})
    assert len(lines) == bool(word)
    limits = of.settings.bins["b1"].thresholds
    if word:
        limit = {"cool": limits.cool_milli_c, "cold": limits.cold_milli_c, "warm": limits.warm_milli_c}[word]
        assert "12 °C" in lines[0]
        assert limit != 12_000


def test_coming_down_from_overheating_and_what_nobody_measured_are_no_news_of_their_own(of):
    assert told(of, change(Thermal.WARM, before=Thermal.OVERHEATING))[1] == []
    draft, lines = told(of, change(Thermal.WARM, probe="", milli=None))
    assert lines == []
    assert draft.values == {}


def test_why_a_condition_is_not_known(drive, of):
    gone = change(Thermal.UNKNOWN, probe="", milli=None)
    draft, _ = told(of, gone)
    assert draft.why == "Sunny bin: temperature not known, its probes are silent."
    assert draft.reason == "silent"
    assert told(of, change(Thermal.UNKNOWN, probe="", milli=None, axis="moisture"))[0].why.startswith(
        "Sunny bin: moisture not known"
    )
    of.state.outings["b1-u"] = OutingState(out=NOW)
    draft, _ = told(of, gone)
    assert (draft.why, draft.reason) == ("Sunny bin: temperature not known, its probes lie outside.", "outside")
    assert told(of, change(Thermal.COOL))[0].why == "Sunny bin is cool (probe b1-t).", "it is known by the other"
    of.bed("b1").state.emptied_at = NOW
    draft, _ = told(of, gone)
    assert (draft.why, draft.reason) == ("Sunny bin: temperature not known, it is empty.", "emptied")
    assert told(of, gone, "b2")[0].why == "Shed bin: temperature not known, nobody has read it for too long."


def test_a_condition_read_by_hand_says_so(of):
    draft, _ = told(of, change(Thermal.COOL, probe="hand:b1"))
    assert draft.why == "Sunny bin is cool (read by hand)."


def test_a_bed_waits_for_its_own_next_deadline(of, monkeypatch):
    monkeypatch.setattr(type(of.bed("b1")), "due", lambda bed: NOW + 9)
    bed_changes(of, "b1", [])
    assert of.agenda.due(Deadline("b1", DueKind.BED)) == NOW + 9


# Past ------------------------------------------------------------------------------------------------------------


def signal(probe="b1-t", last=NOW - HOUR, limit=29_444, moved="", alarm=Alarm.OVERHEATING, on=True):
    values = AlarmValues(value_milli=31_000, limit_milli=limit, moved_from=moved)
    return AlarmSignal(alarm=alarm, on=on, since=last, last=last, probe=probe, values=values)


def by_hand(of, milli=20_000, time=NOW, held_until=NOW + HOUR):
    of.state.hands["hand:b1"] = HandSpot("b1", "", time, milli, time, held_until=held_until)


def test_a_late_reading_rings_nothing_that_a_person_found_over_since(of):
    assert not _is_past(of, "b1", signal())
    by_hand(of)
    assert _is_past(of, "b1", signal())
    by_hand(of, milli=29_444)
    assert not _is_past(of, "b1", signal()), "it is still on"
    by_hand(of, milli=29_443)
    assert _is_past(of, "b1", signal())
    by_hand(of, time=NOW - HOUR)
    assert not _is_past(of, "b1", signal()), "not read since"
    by_hand(of, held_until=NOW)
    assert not _is_past(of, "b1", signal()), "too long ago to count"


def test_only_a_late_reading_of_a_probe_that_was_measured_here_can_be_past(of):
    by_hand(of)
    late = of.late_before
    assert _is_past(of, "b1", signal(last=late - 1))
    assert not _is_past(of, "b1", signal(last=late))
    assert not _is_past(of, "b1", signal(probe="hand:b1:east"))
    assert not _is_past(of, "b1", signal(limit=None))
    assert not _is_past(of, "b1", signal(moved="Bay 2"))
    assert not _is_past(of, "b1", signal(alarm=Alarm.TOO_WET)), "a thermometer says nothing of it"


def test_an_alarm_ends_after_those_that_it_covers():
    ends = [
        signal(alarm=Alarm.FIRE, on=False),
        signal(alarm=Alarm.HOT, on=False),
        signal(alarm=Alarm.TOO_HOT, on=False),
    ]
    covers = [_ends_last(one) for one in ends]
    assert covers[0] > covers[2] > covers[1]
    assert _ends_last(signal(alarm=Alarm.FIRE)) == _ends_last(change(Thermal.COOL)) == 0


def test_an_excursion_that_was_told_as_past_is_not_told_twice(of):
    by_hand(of)
    bed_changes(of, "b1", [signal()])
    record = of.state.alarms["b1/overheating"]
    assert not record.on
    assert len(of.moves) + len(of.touched) > 0
    of.moves.clear()
    of.touched.clear()
    bed_changes(of, "b1", [signal()])
    assert (of.moves, of.touched) == ([], [])
    bed_changes(of, "b1", [signal(last=NOW - HOUR + 1)])
    assert of.touched == ["b1/overheating"]
