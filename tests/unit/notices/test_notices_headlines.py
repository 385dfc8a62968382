"""What the subject of a letter and the first line of one about several things show."""

import pytest

from monitor.model.settings import Contact
from monitor.model.times import MINUTE_MS
from monitor.model.units import show_temperature
from monitor.model.words import Priority
from monitor.notices import Cause, DeskState, NoticeDesk, clean, compose
from monitor.notices.headlines import HEADLINE_MOST, and_more, headline, standing
from tests.worlds.notice_cases import CASES, NOW, f, facts, yard

URGENT = {"overheating", "worms-in-danger", "freezing", "hot", "too-hot", "fire", "hot-and-lost", "look-at-probe"}


def place_of(case, settings):
    if case.place == "ambient":
        return "Yard air"
    return clean(settings.place_name(case.place)) if case.place else settings.site.name


@pytest.mark.parametrize("name", CASES)
def test_a_headline_says_where_and_what_and_neither_limits_nor_times_of_its_own(name):
    settings, case, alarm = yard(), CASES[name], name.split(" ")[0]
    message = compose(alarm, case, settings)
    place = place_of(case, settings)
    found = headline(message.text, place)
    assert found == headline(message.short, place)
    assert place in found
    assert len(found) > len(place) + 3
    assert len(found) <= HEADLINE_MOST
    for left_out in (" (", "since", "°F an hour", "Take all probes"):
        assert left_out not in found
    if alarm in URGENT:
        assert show_temperature(case.value_milli, "degF", whole=case.place == "b1") in found


@pytest.mark.parametrize(
    ("name", "told"),
    [
        ("overheating one silent", "Sunny wall bin: overheating, 86 °F, as last heard 05:10"),
        ("overheating unread", "Sunny wall bin: overheating, 86 °F, as read Sun 07:10"),
        ("too-hot moved", "Bay 2: too hot, 172 °F, as last measured 14:10"),
        ("fire moved", "FIRE DANGER at Bay 2: 185 °F, as read 12:10"),
    ],
)
def test_a_number_that_nobody_hears_any_more_is_none_of_now_in_a_headline_either(name, told):
    settings, case = yard(), CASES[name]
    message = compose(name.split(" ")[0], case, settings)
    assert headline(message.text, place_of(case, settings)) == told
    assert headline(message.short, place_of(case, settings)) == told


@pytest.mark.parametrize(
    ("opened", "tail"),
    [
        ("{} (Still on after 2 h 20 min; nobody on it yet.)", ", still on"),
        ("{} (Not known to be over after 3 h; nobody on it yet.)", ", not known to be over"),
        ("{} (Put off until now; still on.)", ", still on"),
        ("{} (Over to you: Ann has not replied.)", ""),
        ("{} (More urgent now.)", ""),
        ("Still on: {}", ", still on"),
    ],
)
def test_why_a_message_comes_makes_no_headline(opened, tail):
    text = opened.format("Sunny wall bin: overheating, 86 °F since 11:10 (b1-t). Shade and air it.")
    assert headline(text, "Sunny wall bin") + standing(text) == f"Sunny wall bin: overheating, 86 °F{tail}"


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("Bay 1: has needed turning since Sun 09:00, not turned yet. Turn it.", "Bay 1: needs turning"),
        ("Yard: the backup has been failing since Fri 19:33.", "Yard: the backup is failing"),
        ("Bay 1 has been turned. Log it.", "Bay 1 has been turned"),
    ],
)
def test_without_since_when_what_has_been_so_is_so(text, shown):
    assert headline(text, text.split(":", maxsplit=1)[0].split(" has", maxsplit=1)[0]) == shown


def test_a_point_in_a_name_or_a_number_ends_no_headline():
    assert (
        headline("St. Agnes bay: hot, 72.8 °C (limit 71.1 °C). Turn it.", "St. Agnes bay")
        == "St. Agnes bay: hot, 72.8 °C"
    )


def test_a_long_one_is_cut_at_a_blank_and_still_counts():
    words = and_more("Bay 1: " + "very " * 40 + "hot", 3)
    assert len(words) <= HEADLINE_MOST
    assert words.endswith("very …, and 3 more")


def told(settings, contact, *causes):
    """Return the group message that several things of one minute make, the first having gone alone."""
    desk = NoticeDesk(DeskState(), settings)
    desk.cause(NOW, cause("b2", "cool", facts("b2", f(57), f(60)), Priority.MEDIUM))
    for one in causes:
        desk.cause(NOW + 1000, one)
    (group,) = (one for one in desk.serve(NOW + MINUTE_MS) if one.axis == "group")
    assert group.after == contact
    return group.text


def cause(place, alarm, case, priority):
    message = compose(alarm, case, yard())
    return Cause(
        key=f"{place}/{alarm}", place=place, alarm=alarm, priority=priority, since=case.since, text=message.text,
        short=message.short,
    )  # fmt: skip


def test_a_message_about_several_things_begins_with_the_worst_and_how_many_more():
    """A mail's subject and a phone show the first line: it must not be the place alone."""
    awake = Contact(name="Ann", quiet_start_minute=0, quiet_end_minute=0)
    settings = yard(contacts={"ann": awake})
    text = told(
        settings,
        "ann",
        cause("p1", "silent", CASES["silent"], Priority.MEDIUM),
        cause("b1", "overheating", CASES["overheating"], Priority.HIGH),
        cause("b1", "too-wet", CASES["too-wet"], Priority.LOW),
    )
    lines = text.splitlines()
    assert lines[0] == "Sunny wall bin: overheating, 86 °F, and 2 more."
    assert lines[1].startswith("1. Sunny wall bin: overheating, 86 °F since 13:10")
