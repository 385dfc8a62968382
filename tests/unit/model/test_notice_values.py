"""What stands in the values of a notice reads back as it was written, and garbled records are read all the same."""

from hypothesis import given
from hypothesis import strategies as st

from monitor.model.notice_values import NoticeValues, keys_of
from monitor.model.words import Priority

WORDS = st.lists(st.text(min_size=1, max_size=8), max_size=3).map(tuple)


@given(
    st.builds(
        NoticeValues, priority=st.sampled_from(Priority), keys=WORDS, channels=WORDS, alarm=st.text(max_size=8), alarms=WORDS,
        batch=st.text(max_size=8),
    )
)  # fmt: skip
def test_what_is_written_is_read(values):
    plain = values.plain()
    assert NoticeValues.of(plain) == values
    assert keys_of(plain) == values.keys


def test_the_keys_stand_in_the_order_that_exports_show():
    one = NoticeValues(priority=Priority.HIGH, keys=("p1/hot",), channels=("mail",), alarm="hot", batch="p1-1")
    assert [*one.plain().items()] == [
        ("alarm", "hot"), ("priority", "high"), ("keys", ["p1/hot"]), ("channels", ["mail"]), ("batch", "p1-1"),
    ]  # fmt: skip
    assert [*NoticeValues(priority=Priority.LOW).plain()] == ["priority", "keys", "channels"]


def test_what_is_missing_or_garbled_gets_its_default():
    assert NoticeValues.of({}) == NoticeValues(priority=Priority.MEDIUM)
    assert NoticeValues.of({"priority": 7, "keys": None, "channels": None}).priority is Priority.MEDIUM
