"""Excerpts can be stored and shown as they are."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.codec import excerpt
from monitor.codec.decoded import is_word


@pytest.mark.parametrize(
    ("data", "shown"),
    [
        (b"plain", "plain"),
        (b"\xff\x00a\n", "\ufffd\ufffda\ufffd"),
        ("\ud800x", "\ufffdx"),
        (b"x" * 81, "x" * 80 + "…"),
        ("ü".encode() * 80, "ü" * 80),
        ("🌿".encode() * 80, "🌿" * 80),
        ("🌿".encode() * 81, "🌿" * 80),
        (b"", ""),
    ],
)
def test_excerpt(data, shown):
    assert excerpt(data) == shown


@given(st.binary(max_size=400) | st.text(max_size=400))
def test_excerpt_is_short_and_printable(data):
    shown = excerpt(data)
    assert len(shown) <= 81
    assert shown.isprintable()
    shown.encode()


@pytest.mark.parametrize(
    ("text", "good"),
    [
        ("p1-a", True),
        ("Kübel 1", True),
        ("", False),
        (" ", False),
        ("a\n", False),
        ("\ud800", False),
        (7, False),
        ("x" * 256, False),
    ],
)
def test_word(text, good):
    assert is_word(text) is good
