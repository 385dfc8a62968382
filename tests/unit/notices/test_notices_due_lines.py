"""The lines about what falls due: their time, their place, and who is on duty then."""

from datetime import UTC, datetime

from monitor.model.settings import Contact, DutyWindow, Pile, Settings, Site
from monitor.model.times import DAY_MS, HOUR_MS, parse_time
from monitor.notices.due_lines import MOST, DueLine, FallingDue, due_lines
from monitor.notices.roster import Roster

FRIDAY = parse_time("2026-07-17T20:00:00Z")  # 16:00 in New York
ANN = Contact(name="Ann", duty=(DutyWindow(days=(1, 2, 3, 4, 5)),))
BEN = Contact(name="Ben", duty=(DutyWindow(days=(6,)),))
CAT = Contact(name="Cat", order=2)


def lines(*found, who=True, within="before Monday", **contacts):
    roster = Roster(
        Settings(site=Site(time_zone="America/New_York"), piles={"p1": Pile(name="Bay 1")}, contacts=contacts)
    )
    return due_lines(FallingDue(within=within, lines=found), roster, FRIDAY, str.upper, who=who)


def thing(after, words="turn it"):
    return DueLine(at=FRIDAY + after, place="p1", words=words)


def test_each_line_has_its_time_its_place_and_who_is_on_duty_then():
    assert lines(thing(-DAY_MS), thing(HOUR_MS), thing(DAY_MS), thing(2 * DAY_MS), ann=ANN, ben=BEN) == [
        "Due before Monday:",
        "- now P1: turn it (Ann)",
        "- 17:00 P1: turn it (Ann)",
        "- Sat 16:00 P1: turn it (Ben)",
        "- Sun 16:00 P1: turn it (nobody on duty then)",
    ]


def test_the_lowest_order_on_duty_does_it_and_a_yard_without_contacts_names_nobody():
    assert lines(thing(2 * DAY_MS), ann=ANN, cat=CAT)[1] == "- Sun 16:00 P1: turn it (Cat)"
    assert lines(thing(0), ann=ANN, cat=CAT)[1] == "- now P1: turn it (Ann)"
    assert lines(thing(0))[1] == "- now P1: turn it"
    assert lines(thing(0), ann=ANN, who=False)[1] == "- now P1: turn it"


def test_a_long_list_is_cut_and_counted():
    said = lines(*(thing(hour * HOUR_MS) for hour in range(MOST + 3)))
    assert len(said) == MOST + 2
    assert said[-1] == "- 3 more in the diary"
    assert len(lines(*(thing(0) for _ in range(MOST)))) == MOST + 1


def test_nothing_is_one_sentence_and_a_text_that_nobody_asked_for_is_none():
    assert lines() == ["Nothing falls due before Monday."]
    assert lines(within="") == []


def test_friday_is_one():
    assert datetime.fromtimestamp(FRIDAY / 1000, UTC).isoweekday() == 5
