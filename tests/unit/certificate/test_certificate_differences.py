"""Where two files differ, said by their bytes."""

import pytest

from monitor.certificate.checking.differences import MOST_NAMED, byte_ranges, say_ranges

SIZE = 400


def changed(*places, size=SIZE):
    data = bytearray(size)
    for place in places:
        data[place] = 1
    return bytes(data)


def near():
    """Return within how many bytes two differences are one."""
    return next(gap for gap in range(1, SIZE) if len(byte_ranges(changed(), changed(0, gap + 1))) == 2)


def test_files_that_are_the_same_differ_nowhere():
    assert byte_ranges(changed(), changed()) == []
    assert byte_ranges(b"", b"") == []


@pytest.mark.parametrize("place", [0, 1, SIZE - 1])
def test_one_byte_is_a_range_of_one(place):
    assert byte_ranges(changed(), changed(place)) == [(place, place)]


def test_neighbours_are_one_range_and_what_is_further_another():
    gap = near()
    assert byte_ranges(changed(), changed(5, 5 + gap)) == [(5, 5 + gap)]
    assert byte_ranges(changed(), changed(5, 6 + gap)) == [(5, 5), (6 + gap, 6 + gap)]
    assert byte_ranges(changed(3), changed(50, 51, 200)) == [(3, 3), (50, 51), (200, 200)]


@pytest.mark.parametrize("more", [1, 7])
def test_what_one_file_has_more_is_a_range_at_its_end(more):
    assert byte_ranges(changed(), changed(size=SIZE + more)) == [(SIZE, SIZE + more - 1)]
    assert byte_ranges(changed(2, size=SIZE + more), changed()) == [(2, 2), (SIZE, SIZE + more - 1)]
    assert byte_ranges(b"", b"abc") == [(0, 2)]


def test_ranges_in_words():
    assert say_ranges([(7, 7)]) == "byte 7"
    assert say_ranges([(7, 9), (12, 12)]) == "bytes 7 to 9; byte 12"
    many = [(place, place) for place in range(0, 10 * (MOST_NAMED + 3), 10)]
    assert say_ranges(many[:MOST_NAMED]).count(";") == MOST_NAMED - 1
    assert say_ranges(many).endswith("; and 3 more places")
