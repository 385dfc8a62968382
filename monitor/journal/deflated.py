"""Unpacks deflated bytes within a bound: a few of them, in a file from elsewhere, can claim to be gigabytes."""

import zlib

STATE_MOST = 64 << 20
"""The most bytes of an engine's state (our choice)."""


def inflate(data: bytes, most: int) -> bytes:
    """Return deflated bytes as they were.

    Args:
        data: A whole zlib stream.
        most: The most bytes that it may unpack to.

    Raises:
        ValueError: It is none, breaks off, or unpacks to more.
    """
    unpacker = zlib.decompressobj()
    try:
        plain = unpacker.decompress(data, most + 1)
    except zlib.error as fault:
        raise ValueError(str(fault)) from fault
    if len(plain) > most:
        raise ValueError(f"it unpacks to more than {most} bytes")
    if not unpacker.eof:
        raise ValueError("it breaks off")
    return plain
