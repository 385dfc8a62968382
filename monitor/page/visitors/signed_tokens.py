"""Signs values that the page hands out and takes back: sessions, forms, links in messages.

Rules: each purpose signs with its own key, derived from the page's, so that a token for one purpose never passes for another.
Tokens carry their end.
"""

import hashlib
from typing import Any

from itsdangerous import BadData, URLSafeSerializer


class SignedTokens:
    """Tokens for one purpose.

    Args:
        key: The page's key.
        purpose: The purpose; a token of another purpose never fits.
    """

    def __init__(self, key: bytes, purpose: str) -> None:
        derived = {"key_derivation": "hmac", "digest_method": hashlib.sha256}
        self._serializer = URLSafeSerializer(key, salt=f"heaptender page: {purpose}", signer_kwargs=derived)

    def sign(self, value: Any, ends_s: float) -> str:
        """Return a token that carries a JSON value and its end (seconds, on the clock by which it will be checked)."""
        token: str | bytes = self._serializer.dumps([int(ends_s), value])
        return token if isinstance(token, str) else token.decode()

    def read(self, token: str, now_s: float) -> Any | None:
        """Return the value of a token that is ours and has not ended, else None."""
        try:
            ends, value = self._serializer.loads(token)
        except BadData:
            return None
        return value if now_s < ends else None
