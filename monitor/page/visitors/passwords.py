"""The password of the page: kept as a scrypt hash, compared in constant time, and slow to guess.

`heaptender password` asks for a password and prints its hash, which may stand in the configuration instead.

Source: RFC 7914 (scrypt); its cost (N 2^14, r 8, p 5: 16 MiB) is one of those that the OWASP password storage cheat
sheet gives (from memory).
"""

import base64
import hashlib
import hmac
import secrets

from monitor.model.errors import UnavailableError
from monitor.model.settings import PASSWORD_LENGTHS

_N, _R, _P = 1 << 14, 8, 5
_MEMORY = 64 << 20
_MOST_LANES = 16
_MARK = "scrypt$"


def hash_password(password: str, salt: bytes = b"") -> str:
    """Return `scrypt$N$r$p$salt$hash` for a password; "" as salt takes a new one."""
    salt = salt or secrets.token_bytes(16)
    return f"{_MARK}{_N}${_R}${_P}${_b64(salt)}${_b64(_scrypt(password, salt, _N, _R, _P))}"


def kept_hash(given: str, key: bytes) -> str:
    """Return the hash to compare a password with: the configured text if it is a hash, else its hash.

    The salt comes from the page's key, so the same password has the same hash at the next start, and signed-in people stay
    signed in.

    Raises:
        UnavailableError: The configured text begins as a hash and is none that can be used.
    """
    if is_hash(given):
        if trouble := hash_trouble(given):
            raise UnavailableError(f"{trouble[0].upper()}{trouble[1:]}.")
        return given
    return hash_password(given, hmac.digest(key, b"heaptender page: password salt", hashlib.sha256)[:16])


def is_hash(given: str) -> bool:
    """Return whether a configured password is a hash, and no plain words."""
    return given.startswith(_MARK)


def hash_trouble(given: str) -> str:
    """Return the fault of a configured password that begins as a hash; "" for a usable hash and for plain words."""
    if not is_hash(given):
        return ""
    try:
        _, n, r, p, salt, digest = given.split("$")
        wrong = _cost_trouble(int(n), int(r), int(p))
        base64.b64decode(salt, validate=True), base64.b64decode(digest, validate=True)
    except ValueError:
        wrong = "is none"
    return wrong and f"the page's password begins as a hash and {wrong}; let `heaptender password` make one"


def _cost_trouble(n: int, r: int, p: int) -> str:
    """Return the fault of a hash's costs, with which comparing would fail or take too long; "" for usable ones (RFC 7914)."""
    if n.bit_count() != 1 or min(n - 1, r, p) < 1 or n.bit_length() > 16 * r:
        return "is none"
    # So much memory the library counts on; it refuses beyond `maxmem`.
    return "costs too much to compare" if p > _MOST_LANES or 128 * r * (n + p + 2) > _MEMORY else ""


def fits(password: str, kept: str) -> bool:
    """Return whether a password matches its hash."""
    if len(password) > PASSWORD_LENGTHS[1]:
        return False
    _, n, r, p, salt, digest = kept.split("$")
    found = _scrypt(password, base64.b64decode(salt), int(n), int(r), int(p))
    return hmac.compare_digest(found, base64.b64decode(digest))


def _scrypt(password: str, salt: bytes, n: int, r: int, p: int) -> bytes:
    return hashlib.scrypt(password.encode(), salt=salt, n=n, r=r, p=p, maxmem=_MEMORY, dklen=32)


def _b64(data: bytes) -> str:
    return base64.b64encode(data).decode()
