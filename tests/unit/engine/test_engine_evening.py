"""The word of the evening before, from the event to the messages: once an evening, one message, quiet hours kept."""

from dataclasses import replace

import pytest
from engine_yard import ANN, DAY, HOUR, MIN, T0, Drive, yard

from monitor.engine import Engine
from monitor.model.effects import EffectKind
from monitor.model.settings import NoticePolicy

EVENING = T0 + 24 * HOUR  # Monday 2 November, 19:00 in New York


def place(name="b1", days=4, last="2026-10-20", limit=29_444):
    return {"place": name, "limit_milli_c": limit, "days": days, "last": last}


def word(day="2026-11-03", what="heat", milli_c=36_111, places=None, **more):
    return {"day": day, "what": what, "milli_c": milli_c, "whence": "typed", "by": "Ann",
            "joins": False, "places": [place()] if places is None else places, **more}  # fmt: skip


def told(drive, contact="ann"):
    return [
        one.draft.text for one in drive.effects if one.draft.kind is EffectKind.NOTICE and one.draft.after == contact
    ]


def drive_of(**contacts):
    """Return an engine on the evening, its morning's digest behind it."""
    drive = Drive(yard(contacts=contacts or None))
    drive.advance(EVENING - MIN)
    drive.effects.clear()
    return drive


def test_people_are_told_once_an_evening():
    drive = drive_of()
    drive.feed(EVENING, "evening", word())
    (text,) = told(drive)
    assert text.startswith(
        "Sunny bin: 36 °C in the air tomorrow; it passed 29.4 °C on 4 days no hotter, last on 20 Oct"
    )
    assert "(forecast, typed in by Ann). Shade it before the sun is on it" in text
    drive.feed(EVENING + HOUR, "evening", word(places=[place("b2")]))
    assert len(told(drive)) == 1, "one evening, one word"
    drive.feed(EVENING + DAY, "evening", word(day="2026-11-04"))
    assert len([one for one in told(drive) if "in the air" in one.split("\n")[0]]) >= 2


def test_several_bins_are_one_message():
    drive = drive_of()
    drive.feed(EVENING, "evening", word(places=[place(), place("b2", days=3)]))
    (text,) = told(drive)
    assert text.splitlines()[0] == "Sunny bin: 36 °C in the air tomorrow, and 1 more."
    assert "2. Shed bin: 36 °C in the air tomorrow; it passed 29.4 °C on 3 days no hotter" in text


def test_it_goes_to_those_who_get_the_digest_and_look_after_the_bin():
    drive = drive_of(
        ann=ANN,
        ben=replace(ANN, name="Ben", digest=False),
        cat=replace(ANN, name="Cat", places=("b2",)),
        dan=replace(ANN, name="Dan", order=2),
    )
    drive.feed(EVENING, "evening", word())
    assert [len(told(drive, one)) for one in ("ann", "ben", "cat", "dan")] == [1, 0, 0, 1]


def test_who_is_away_is_not_told():
    drive = drive_of()
    drive.work(EVENING - HOUR, "yard", "away", contact="ann",
               start="2026-11-02T10:00:00Z", end="2026-11-05T10:00:00Z")  # fmt: skip
    drive.feed(EVENING, "evening", word())
    assert [one for one in told(drive) if "in the air" in one] == []


@pytest.mark.parametrize("what", ["heat", "frost"])
def test_quiet_hours_hold_heat_until_morning_and_drop_frost(what):
    quiet = replace(ANN, quiet_start_minute=18 * 60, quiet_end_minute=7 * 60, digest=True)
    drive = drive_of(ann=quiet)
    drive.feed(EVENING, "evening", word(what=what, milli_c=36_111 if what == "heat" else -4_000))
    assert told(drive) == []
    drive.advance(EVENING + 13 * HOUR)
    found = "\n".join(told(drive))
    assert ("Shade it before the sun is on it, and" in found) is (what == "heat"), (
        "a frost that is told too late has been"
    )
    assert ("36 °C in the air today" in found) is (what == "heat")


def test_an_evening_digest_takes_it_in():
    drive = Drive(yard(notices=NoticePolicy(digest_minute=19 * 60 + 30)))
    drive.advance(EVENING - MIN)
    drive.effects.clear()
    drive.feed(EVENING + 25 * MIN, "evening", word(joins=True))
    assert told(drive) == []
    drive.advance(EVENING + 31 * MIN)
    (text,) = told(drive)
    assert "36 °C in the air tomorrow; it passed 29.4 °C on 4 days no hotter" in text
    assert "Shade it before the sun is on it." in text


def test_an_empty_bin_and_one_that_is_gone_are_left_out():
    drive = drive_of()
    drive.work(EVENING - HOUR, "b1", "emptied")
    drive.feed(EVENING, "evening", word(places=[place(), place("gone")]))
    assert told(drive) == []


def test_a_snapshot_remembers_that_it_was_told():
    drive = drive_of()
    drive.feed(EVENING, "evening", word())
    again = Drive(engine=Engine.restore(drive.engine.snapshot()))
    again.feed(EVENING + HOUR, "evening", word())
    assert told(again) == []


@pytest.mark.parametrize(
    "wrong",
    [
        {"day": "tomorrow"}, {"what": "rain"}, {"milli_c": "97"}, {"places": 3}, {"places": ["b1"]},
        {"places": [{"place": "b1"}]}, {"places": [place(last="soon")]}, {"places": [place(name=None)]},
    ],
)  # fmt: skip
def test_an_event_of_a_wrong_shape_changes_nothing(wrong):
    drive = drive_of()
    before = drive.engine.state.evening
    drive.feed(EVENING, "evening", word() | wrong)
    assert told(drive) == []
    assert drive.engine.state.evening == before
