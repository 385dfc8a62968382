"""The password of the page: kept as a scrypt hash, compared in constant time, and slow to guess.

`python -m monitor.page.passwords` asks for one and prints the hash that may stand in the configuration instead of it.

Source: RFC 7914 (scrypt); its cost (N 2^14, r 8, p 5: 16 MiB) is one of those that the OWASP password storage cheat
sheet gives (from memory).
"""

import base64
import getpass
import hashlib
import hmac
import secrets
import sys

_N, _R, _P = 1 << 14, 8, 5
_MEMORY = 64 << 20
_MARK = "scrypt$"


def hash_password(password: str) -> str:
    """Return `scrypt$N$r$p$salt$hash` of a password."""
    salt = secrets.token_bytes(16)
    return f"{_MARK}{_N}${_R}${_P}${_b64(salt)}${_b64(_scrypt(password, salt, _N, _R, _P))}"


def is_hash(text: str) -> bool:
    """Tell whether a configured password is a hash already."""
    return text.startswith(_MARK)


def check_hash(text: str) -> str:
    """Return what is wrong with a hash, or ""."""
    try:
        _, n, r, p, salt, digest = text.split("$")
        fits = int(n) <= 1 << 20 and int(r) * int(n) * 128 <= _MEMORY and int(p) <= 16
        base64.b64decode(salt, validate=True), base64.b64decode(digest, validate=True)
    except ValueError:
        return "it is no scrypt hash"
    return "" if fits else "its cost is too high"


def fits(password: str, kept: str) -> bool:
    """Tell whether a password is the one that was hashed."""
    _, n, r, p, salt, digest = kept.split("$")
    found = _scrypt(password, base64.b64decode(salt), int(n), int(r), int(p))
    return hmac.compare_digest(found, base64.b64decode(digest))


def _scrypt(password: str, salt: bytes, n: int, r: int, p: int) -> bytes:
    return hashlib.scrypt(password.encode()[:1024], salt=salt, n=n, r=r, p=p, maxmem=_MEMORY, dklen=32)


def _b64(data: bytes) -> str:
    return base64.b64encode(data).decode()


if __name__ == "__main__":
    first = getpass.getpass("Password of the page: ")
    if len(first) < 8 or first != getpass.getpass("Once more: "):
        sys.exit("They differ, or it is shorter than 8 characters; nothing was made.")
    sys.stdout.write(hash_password(first) + "\n")
