"""The page's own secret, and what is signed with it: sessions, forms, links in messages.

Rules: one random key in a file that only its owner can read; every purpose signs with a key of its own derived from it,
so that a token for one thing never passes for another; tokens carry their end; comparing takes the same time whatever is
compared.

Source: RFC 2104 (HMAC) with SHA-256; RFC 4648, section 5 (base64url).
"""

import base64
import hashlib
import hmac
import json
import secrets
from pathlib import Path
from typing import Any

from monitor.model.errors import UnavailableError
from monitor.page.visitors.private_file import write_private

KEY_FILE = "page.key"
"""Name of the key file in the data folder."""

_SIGNATURE_BYTES = 18
_KEY_BYTES = 32


def load_key(folder: Path) -> bytes:
    """Return the page's key, made at the first call; an empty file, as a power cut may leave it, counts as none.

    Raises:
        UnavailableError: It cannot be read or written.
    """
    path = folder / KEY_FILE
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        key = path.read_bytes() if path.exists() else b""
        if not key:
            key = _make_key(path)
    except OSError as fault:
        raise UnavailableError(f"{path} cannot be used for the page's key: {fault.strerror or fault}") from fault
    if len(key) < _KEY_BYTES:
        raise UnavailableError(f"{path} is too short for a key; delete it, and a new one is made at the next start")
    return key


def _make_key(path: Path) -> bytes:
    """Write a new key and return it: it stands under its name only once it is on the disk, whole."""
    key = secrets.token_bytes(_KEY_BYTES)
    write_private(path, key)
    return key


class Signer:
    """Signs small values for one purpose.

    Args:
        key: The page's key.
        purpose: What the tokens are for; a token of another purpose never fits.
    """

    def __init__(self, key: bytes, purpose: str) -> None:
        self._key = hmac.digest(key, b"heaptender page: " + purpose.encode(), hashlib.sha256)

    def sign(self, value: Any, ends_s: float) -> str:
        """Return a token that carries a JSON value and its end (seconds, on whatever clock it will be checked by)."""
        body = json.dumps([int(ends_s), value], ensure_ascii=False, separators=(",", ":")).encode()
        return f"{_text(body)}.{_text(self._signature(body))}"

    def read(self, token: str, now_s: float) -> Any | None:
        """Return the value of a token that is ours and has not ended, else None."""
        try:
            first, second = token.split(".")
            body, signature = _bytes(first), _bytes(second)
        except ValueError:
            return None
        if not hmac.compare_digest(signature, self._signature(body)):
            return None
        ends, value = json.loads(body)
        return value if now_s < ends else None

    def _signature(self, body: bytes) -> bytes:
        return hmac.digest(self._key, body, hashlib.sha256)[:_SIGNATURE_BYTES]


def _text(data: bytes) -> str:
    return base64.urlsafe_b64encode(data).rstrip(b"=").decode()


def _bytes(text: str) -> bytes:
    return base64.b64decode(text + "=" * (-len(text) % 4), altchars=b"-_", validate=True)
