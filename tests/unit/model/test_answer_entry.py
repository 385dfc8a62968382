"""What command line and page make of an answer to an alarm."""

import pytest

from monitor.model.alarm_kinds import BRIEF_MS
from monitor.model.answer_entry import answer_payload
from monitor.model.errors import MisuseError
from monitor.model.events import Answer
from monitor.model.times import HOUR_MS

NOW = 1_790_000_000_000


def test_an_answer_says_what_of_and_by_whom():
    told = answer_payload("b1/too-wet", Answer.SEEN, "Ann", None, NOW)
    assert told == {"alarm": "b1/too-wet", "answer": "seen", "by": "Ann"}


def test_a_put_off_has_its_end():
    assert answer_payload("b1/too-wet", Answer.PUT_OFF, "", NOW + HOUR_MS, NOW)["until"] == NOW + HOUR_MS


@pytest.mark.parametrize(
    ("key", "until", "said"),
    [
        ("b1/too-wet", None, "needs its end"),
        ("b1/too-wet", NOW, "lies in the past"),
        ("p1/fire", NOW + BRIEF_MS + 1, "2 h at most"),
        ("p1/look-at-probe/p1-a", NOW + BRIEF_MS + 1, "2 h at most"),
    ],
)
def test_a_put_off_that_cannot_be_is_refused(key, until, said):
    with pytest.raises(MisuseError, match=said):
        answer_payload(key, Answer.PUT_OFF, "", until, NOW)


@pytest.mark.parametrize(("key", "until"), [("p1/fire", NOW + BRIEF_MS), ("b1/too-wet", NOW + 30 * BRIEF_MS)])
def test_only_a_danger_must_be_looked_at_soon(key, until):
    assert answer_payload(key, Answer.PUT_OFF, "", until, NOW)["until"] == until
