"""Tells whether the page that answers at an address is the one of this data folder, by a secret that only the two know."""

import hashlib
import hmac
import http.client
import secrets

PATH = "/static/whose/"
"""Where a page proves whose it is; a stranger learns nothing there but that it is one."""

ANSWER_S = 3.0
NONCE_MOST = 64


def proof(key: bytes, nonce: str) -> str:
    """Return what the page with this key answers to a nonce."""
    return hmac.new(key, f"heaptender page: whose {nonce[:NONCE_MOST]}".encode(), hashlib.sha256).hexdigest()


def is_ours(host: str, port: int, key: bytes) -> bool:
    """Ask whoever listens whether it is the page with this key (host: an address, not a name)."""
    nonce = secrets.token_hex(16)
    connection = http.client.HTTPConnection(host, port, timeout=ANSWER_S)
    try:
        connection.request("GET", PATH + nonce)
        said = connection.getresponse().read(200)
    except (OSError, http.client.HTTPException):
        return False
    finally:
        connection.close()
    return hmac.compare_digest(said, proof(key, nonce).encode())
