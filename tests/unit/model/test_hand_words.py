"""The event of readings by hand, as command line and page make it."""

import pytest

from monitor.model.errors import MisuseError
from monitor.model.hand_words import hand_payload, hand_value
from monitor.model.readings import hand_series
from monitor.model.settings import Settings, Site

AT = 1_790_000_000_000


def value():
    return hand_value(Settings(site=Site(name="Yard")), "131 degF")


def test_what_was_taken_back_is_written_anew_beside_it():
    told = hand_payload("p1", AT, [("", value())], {}, {AT, AT + 1, AT + 3})
    assert told["rows"] == [[AT + 2, hand_series("p1", ""), 131_000_000, "[degF]"]]


def test_what_is_said_of_all_stands_beside_the_rows_and_what_is_empty_is_left_out():
    told = hand_payload("p1", AT, [("west", value())], {"by": "Ann", "note": "", "depth": None}, ())
    assert told == {"rows": [[AT, hand_series("p1", "west"), 131_000_000, "[degF]"]], "ahead": [], "by": "Ann"}


@pytest.mark.parametrize("text", ["9999999999999", "1" * 120, "-" + "9" * 400])
def test_a_number_beyond_all_use_is_refused_like_any_other(text):
    """Found by fuzzing: thirteen figures in the field of a temperature ended with an error of the program."""
    with pytest.raises(MisuseError, match="is no temperature of a heap or bin"):
        hand_value(Settings(site=Site(name="Yard")), text)
