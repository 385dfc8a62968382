"""Cookies, links and headers of strangers: nobody gets in with what was not handed out; the first line is the token, the
second the host.

The page's key is the same in each run, so that kept inputs hold tokens that fit it.
"""

from types import SimpleNamespace

from monitor.page.visitors.bag_links import bag_address, read_bag
from monitor.page.visitors.hosts import asked_from, host_fits, host_name, is_elsewhere
from monitor.page.visitors.message_links import SeenLink, read_seen, seen_token
from monitor.page.visitors.sessions import Sessions, Standing, tidy_name
from monitor.page.visitors.signed_tokens import SignedTokens
from tests.fuzz.contract import Parser, parts

KEY, NOW = b"k" * 32, 1_784_500_000_000
GUESTS = SimpleNamespace(known=lambda _hash: None)
SESSIONS = Sessions(KEY, "hash", GUESTS, set(), alone=False)
COOKIE = SESSIONS.begin(NOW / 1000, known=True, session="abcdefgh")
SEEN = seen_token(KEY, SeenLink(NOW, "ann"))
BAG = bag_address("", KEY, "lot-1", NOW).removeprefix("/bag/")
OTHER = SignedTokens(b"j" * 32, "session").sign({"password": "x"}, NOW)
GIVEN = {token.rpartition(".")[0] for token in (COOKIE, SEEN, BAG)}


def read(data):
    """Show a token wherever one is read, and a host and an address wherever these are."""
    token, host, address = (part.decode("latin-1") for part in parts(data, 3))
    visitor = SESSIONS.visitor(token, host, {"x-forwarded-for": address}, address, NOW / 1000)
    found = [
        visitor.standing is not Standing.STRANGER,
        SESSIONS.session_of(token, NOW / 1000) != "",
        SESSIONS.form_fits(token, "abcdefgh", NOW / 1000),
        read_seen(KEY, token, NOW) is not None,
        read_bag(KEY, token, NOW) is not None,
    ]
    assert not any(found) or token.rpartition(".")[0] in GIVEN, found
    tidy_name(token)
    name = host_name(host)
    assert host_name(name if ":" not in name else f"[{name}]") == name, name
    if host_fits(host, ("yard.example",), "127.0.0.1"):
        assert not is_elsewhere(host)
    asked_from(address, "127.0.0.1")


PARSER = Parser(
    read,
    seeds=tuple(
        f"{token}\n{host}".encode()
        for token, host in (
            (COOKIE, "localhost:8080\n127.0.0.1"),
            (SEEN, "[::1]:80\nfe80::1%eth0"),
            (BAG, "yard.example.\n10.0.0.1, ::1"),
            (OTHER, "192.168.1.5"),
            ("." + COOKIE, "a@b:c"),
            (COOKIE.partition(".")[0], "[::ffff:127.0.0.1]"),
        )
    ),
    words=(
        b"localhost",
        b"127.0.0.1",
        b"[::1]",
        b"[::ffff:7f00:1]",
        b":8080",
        b"@",
        b"%25",
        b"0x7f.1",
        b"..",
        b"\xe3\x80\x82",
    ),
    longest=600,
)
