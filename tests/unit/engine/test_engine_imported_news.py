"""What an import changes about a heap: its phase, told once, and what was read by hand."""

import pytest
from engine_yard import DAY, HOUR, MIN, T0, Drive, yard


def by_hand(celsius, at):
    return [at, "hand:p1", celsius * 1_000_000, "Cel"]


def test_a_phase_that_an_import_changed_leaves_the_news_of_the_next_holding():
    drive = Drive(yard())
    drive.hold(T0 + 3 * HOUR, T0 + 2 * DAY, 30 * MIN, p1_a=30.5, p1_b=30)
    rows = [[T0 + n * 10 * MIN, p, (44 + n % 3) * 1_000_000, "Cel"] for n in range(15) for p in ("p1-a", "p1-b")]
    drive.feed(T0 + 2 * DAY + MIN, "imported", {"rows": rows, "work": []})
    assert [(after, why) for _, after, _, why in drive.phases()] == [
        ("heating", "built"),
        ("cooling", "record changed"),
    ]
    drive.hold(T0 + 2 * DAY + 30 * MIN, T0 + 2 * DAY + 4 * HOUR, p1_a=60, p1_b=60)
    assert [after for _, after, _, _ in drive.phases()[2:]] == ["heating", "holding"]
    assert len(drive.digest_lines("at temperature throughout")) == 1


@pytest.mark.parametrize(
    ("read_at", "imported_at", "shown"),
    [
        (T0 + 5 * DAY - HOUR, T0 + 5 * DAY - MIN, 60),  # still held: what people read themselves stands
        (T0 + HOUR, T0 + 4 * DAY, 50),
        (T0 + HOUR, T0 + HOUR, 60),
        (T0 + HOUR, T0, 60),
        (None, T0, 50),
    ],
)
def test_an_imported_reading_by_hand_is_the_newest_of_its_spot_unless_a_held_or_newer_one_stands(
    read_at, imported_at, shown
):
    drive = Drive(yard(probes={}))
    if read_at is not None:
        drive.feed(read_at + 1, "readings", {"rows": [by_hand(60, read_at)], "ahead": [], "by": "Ann"})
    drive.feed(T0 + 5 * DAY, "imported", {"rows": [by_hand(50, imported_at)], "work": []})
    assert drive.engine.state.hands["hand:p1"].milli == shown * 1_000
