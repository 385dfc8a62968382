"""Tells whether the page at an address belongs to this data folder, by a secret that only the two know."""

import hashlib
import hmac
import http.client
import secrets

PATH = "/static/whose/"
"""The address where a page proves whose it is; a stranger learns only that it is such a page."""

ANSWER_S = 3.0
NONCE_MOST = 64


def proof(key: bytes, nonce: str) -> str:
    """Return the answer of the page with this key to a nonce."""
    return hmac.new(key, f"heaptender page: whose {nonce[:NONCE_MOST]}".encode(), hashlib.sha256).hexdigest()


def is_ours(host: str, port: int, key: bytes) -> bool:
    """Ask at an address whether the page with this key listens there.

    Args:
        host: An address, no name.
        port: The port.
        key: The page's key.

    Returns:
        Whether it is that page; also False if nobody answers.
    """
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
