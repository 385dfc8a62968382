"""What a reader gets out of a socket that is read ahead: the same bytes in the same order, whatever it asks for."""

import socket

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.intake.read_ahead import PIECE, ReadAhead


@pytest.fixture
def pair():
    far, near = socket.socketpair()
    near.setblocking(False)
    with far, near:
        yield far, near


class Told:
    """A socket that hands out given pieces, one a call, as a network would; then nothing yet, or the end."""

    def __init__(self, pieces, last):
        self.pieces, self.last = list(pieces), last
        self.asked = 0

    def send(self, data):
        return len(data)

    def setsockopt(self, *_):
        raise OSError("the connection is gone")

    def recv(self, size):
        self.asked += 1
        if self.pieces:
            assert len(self.pieces[0]) <= size
            return self.pieces.pop(0)
        if self.last is None:
            raise BlockingIOError
        return self.last


@given(st.lists(st.binary(min_size=1, max_size=40)), st.lists(st.integers(1, 30), min_size=1))
def test_bytes_come_whole_and_in_order(pieces, sizes):
    whole, under = b"".join(pieces), Told(pieces, b"")
    ahead, got, calls = ReadAhead(under), [], 0
    while True:
        size = sizes[calls % len(sizes)]
        part = ahead.recv(size)
        calls += 1
        if not part:
            break
        assert len(part) <= size
        got.append(part)
        assert ahead.pending() == sum(map(len, pieces[: under.asked])) - sum(map(len, got))
    assert b"".join(got) == whole
    assert under.asked == len(pieces) + 1
    assert ahead.recv(1) == b""


def test_many_small_reads_ask_the_system_once(pair):
    far, near = pair
    far.sendall(bytes(range(200)))
    under = Told([bytes(range(200))], None)
    counted = ReadAhead(under)
    assert bytes(counted.recv(1)[0] for _ in range(200)) == bytes(range(200))
    assert under.asked == 1
    assert ReadAhead(near).recv(7) == bytes(range(7))


def test_nothing_yet_is_told_as_the_socket_does_and_loses_nothing(pair):
    far, near = pair
    ahead = ReadAhead(near)
    with pytest.raises(BlockingIOError):
        ahead.recv(1)
    far.sendall(b"later")
    assert (ahead.pending(), ahead.recv(2), ahead.pending(), ahead.recv(PIECE), ahead.pending()) == (
        0,
        b"la",
        3,
        b"ter",
        0,
    )
    with pytest.raises(BlockingIOError):
        ahead.recv(1)


def test_what_a_tls_socket_holds_back_counts_as_well():
    under = Told([b"abc"], None)
    under.pending = lambda: 5
    ahead = ReadAhead(under)
    assert ahead.pending() == 5
    ahead.recv(1)
    assert ahead.pending() == 7


@pytest.mark.skipif(not hasattr(socket, "TCP_QUICKACK"), reason="this system has no such option")
def test_a_receipt_is_asked_for_each_time_something_was_read():
    under, asked = Told([b"abc", b"d"], b""), []
    under.setsockopt = lambda *option: asked.append((under.asked, option))
    ahead = ReadAhead(under)
    for _ in range(4):
        ahead.recv(1)
    option = (socket.IPPROTO_TCP, socket.TCP_QUICKACK, 1)
    assert asked == [(1, option), (2, option)]


def test_all_else_is_the_sockets_own(pair):
    far, near = pair
    ahead = ReadAhead(near)
    assert ahead.fileno() == near.fileno()
    assert ahead.send(b"back") == 4
    assert far.recv(9) == b"back"
    with pytest.raises(AttributeError):
        _ = ahead.nothing_of_the_kind
