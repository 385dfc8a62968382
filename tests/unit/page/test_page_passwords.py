"""Hashes of passwords: which the page can compare with, which it refuses before anybody signs in, and what they hold."""

import base64
import hashlib

import pytest

from monitor.page import hash_password, hash_trouble, kept_hash
from monitor.page.visitors.passwords import fits

SALT = base64.b64encode(b"sixteen bytes..!").decode()


def hashed(n, r, p, password="barrow"):
    """Return a hash of a password by the library itself, without a limit of memory."""
    digest = hashlib.scrypt(password.encode(), salt=b"sixteen bytes..!", n=n, r=r, p=p, maxmem=1 << 30, dklen=32)
    return f"scrypt${n}${r}${p}${SALT}${base64.b64encode(digest).decode()}"


def test_a_new_hash_is_one_of_scrypt_with_the_cost_that_is_published():
    kept = hash_password("barrow", b"sixteen bytes..!")
    assert kept == hashed(1 << 14, 8, 5)
    fresh, other = hash_password("barrow"), hash_password("barrow")
    assert fresh != other, "each hash has a salt of its own"
    assert len(base64.b64decode(fresh.split("$")[4])) == 16
    assert len(base64.b64decode(kept_hash("barrow", b"k" * 32).split("$")[4])) == 16


@pytest.mark.parametrize(("n", "r", "p"), [(2, 1, 1), (1 << 10, 8, 16), (1 << 15, 1, 1), (1 << 16, 2, 1)])
def test_a_hash_of_another_cost_is_compared_as_it_is(n, r, p):
    kept = hashed(n, r, p)
    assert hash_trouble(kept) == ""
    assert fits("barrow", kept)
    assert not fits("barrows", kept)


@pytest.mark.parametrize(
    ("n", "r", "p"),
    [(1 << 16, 8, 1), (1 << 18, 2, 1), (1 << 15, 16, 1), (1 << 10, 8, 17), (1 << 30, 2, 1)],
)
def test_a_hash_that_costs_too_much_is_refused_before_anybody_signs_in(n, r, p):
    assert "costs too much to compare" in hash_trouble(f"scrypt${n}${r}${p}$AAAA$AAAA")


@pytest.mark.parametrize(
    "cost",
    [
        "1000$8$1",
        "1$8$1",
        "0$8$1",
        "-2$8$1",
        "65536$1$1",
        "1024$0$1",
        "1024$8$0",
        "1024$-8$1",
        "a$8$1",
        "1024$8$",
        "1024$8",
    ],
)
def test_a_cost_at_which_no_password_can_be_compared_is_no_hash(cost):
    assert "begins as a hash and is none" in hash_trouble(f"scrypt${cost}$AAAA$AAAA")


@pytest.mark.parametrize("rest", ["!!!$AAAA", "AAAA$!!!", "AAAA", "AAAA$AAAA$AAAA"])
def test_a_salt_or_digest_that_cannot_be_read_is_no_hash(rest):
    assert "begins as a hash and is none" in hash_trouble(f"scrypt$1024$8$1${rest}")
