"""Every alarm is declared once, and its declaration holds together with thresholds and words."""

from dataclasses import fields

import pytest

from monitor.configuration import keys_of
from monitor.model.alarm_kinds import CATALOG, About, Alarm, WrongSide, alarm_key, alarm_name, read_alarms
from monitor.model.thresholds import BinThresholds, PileThresholds, ProbeThresholds
from monitor.model.words import Priority
from monitor.notices.texts import WORDS

OF = {About.HEAP: (PileThresholds,), About.BED: (BinThresholds,), About.PROBE: (ProbeThresholds, PileThresholds)}

EVERY = pytest.mark.parametrize("alarm", Alarm)


@EVERY
def test_its_id_finds_it_and_names_its_key(alarm):
    assert CATALOG[str(alarm)] is alarm.kind
    assert alarm_key("p1", alarm, "p1-a") == (f"p1/{alarm}/p1-a" if alarm.kind.of_probe else f"p1/{alarm}")
    assert alarm_name(str(alarm)) == alarm.kind.name


@EVERY
def test_what_it_covers_is_no_more_urgent_and_of_the_same_place(alarm):
    for other in alarm.kind.covers:
        assert CATALOG[other].about is alarm.kind.about
        assert CATALOG[other].urgency <= alarm.kind.urgency


@EVERY
def test_the_thresholds_that_it_names_are_there(alarm):
    keys = {key for cls in OF.get(alarm.kind.about, ()) for key in keys_of(cls)}
    named = {field.name for cls in OF.get(alarm.kind.about, ()) for field in fields(cls)}
    assert set(alarm.kind.goes_by) <= keys
    for limit in alarm.kind.limits:
        assert {limit.field, *([limit.dwell] if limit.dwell else [])} <= named
        assert limit.field.rsplit("_milli", 1)[0] in alarm.kind.goes_by


@EVERY
def test_a_limit_has_a_wrong_side(alarm):
    assert not alarm.kind.limits or alarm.kind.side in (WrongSide.ABOVE, WrongSide.BELOW)


@EVERY
def test_people_are_told_what_to_do(alarm):
    assert WORDS[alarm].advice is not None
    assert (WORDS[alarm].read is not None) is bool(alarm.kind.limits)


def test_no_two_are_called_the_same():
    assert len({kind.name for kind in CATALOG.values()}) == len(CATALOG)


def test_an_alarm_of_a_later_version_is_called_by_its_id():
    assert alarm_name("too-windy") == "too-windy"


@pytest.mark.parametrize(
    ("about", "worst_first"),
    [
        (About.HEAP, [Alarm.FIRE, Alarm.TOO_HOT, Alarm.HOT]),
        (About.BED, [Alarm.WORMS_IN_DANGER, Alarm.FREEZING, Alarm.OVERHEATING]),
    ],
)
def test_a_reading_by_hand_means_the_worst_first(about, worst_first):
    assert read_alarms(about) == worst_first


def test_a_danger_may_be_put_off_only_briefly():
    brief = {alarm for alarm in Alarm if alarm.kind.brief}
    assert {alarm for alarm in Alarm if alarm.kind.priority is Priority.HIGHEST} <= brief
    assert {alarm for alarm in Alarm if alarm.kind.shuts} <= brief
    assert Alarm.OVERHEATING not in brief
