"""Chooses from many inputs the few that walk all that they walk together, and makes each as small as it can be."""

import sys
import time
from pathlib import Path

from tests.fuzz.contract import tried

MOST_FILES = 30
"""So many files for one parser."""
_TRIES = 400
_SMALLER_S = 20.0
"""So many seconds of one core are spent on making the inputs of one parser smaller."""


def steps_of(parser, data):
    """Return the steps from line to line of `monitor/` that an input walks."""
    found, last = set(), {}

    def look(frame, event, _):
        name = frame.f_code.co_filename
        if "/monitor/" not in name:
            return None
        if event == "line":
            step = (name, last.get(frame, 0), frame.f_lineno)
            last[frame] = frame.f_lineno
            found.add(hash(step))
        return look

    sys.settrace(look)
    try:
        tried(parser, data)
    finally:
        sys.settrace(None)
    return found


def chosen(parser, folder, told=print):
    """Return few and small inputs of a folder that walk as much as they can within the limits."""
    inputs = sorted({path.read_bytes() for path in Path(folder).iterdir() if path.is_file()}, key=len)
    walked = [(data, steps_of(parser, data)) for data in inputs]
    everything = set().union(*(steps for _, steps in walked)) if walked else set()
    kept, covered, size, until = [], set(), 0, time.process_time() + _SMALLER_S
    while len(kept) < MOST_FILES:
        # The most new steps for the root of the bytes, so that one long input does not fill the room.
        data, steps = max(
            walked, key=lambda one: len(one[1] - covered) / (20 + len(one[0])) ** 0.5, default=(b"", set())
        )
        new = steps - covered
        if not new or size + len(data) > parser.kept:
            walked = [one for one in walked if one[0] != data]
            if not walked:
                break
            continue
        smaller = _smaller(parser, data, new, until)
        kept.append(smaller)
        covered |= steps_of(parser, smaller)
        size += len(smaller)
    told(f"{len(kept)} of {len(inputs)} inputs, {size} bytes, walk {len(covered)} of {len(everything)} steps")
    return kept


def _smaller(parser, data, needed, until):
    """Leave out what can go without losing a needed step, larger pieces first."""
    piece, tries = max(1, len(data) // 2), 0
    while piece >= 1 and tries < _TRIES and time.process_time() < until:
        at = 0
        while at < len(data) and tries < _TRIES and time.process_time() < until:
            shorter = data[:at] + data[at + piece :]
            tries += 1
            if needed <= steps_of(parser, shorter):
                data = shorter
            else:
                at += piece
        piece //= 2
    return data
