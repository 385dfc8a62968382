"""JSON in one form only: compact UTF-8, so that equal values are always equal bytes."""

import json
from collections.abc import Mapping
from math import isfinite
from typing import Any

DECIMALS = 3
"""Most decimals of a number in an effect."""


def compact(value: Any, *, ordered: bool = False) -> str:
    """Return a value as compact JSON; keys are sorted unless their order is `ordered` by the caller.

    Half of a surrogate pair, which UTF-8 cannot hold, makes the whole line ASCII with escapes.

    Raises:
        ValueError: A number is not finite.
    """
    text = json.dumps(value, ensure_ascii=False, allow_nan=False, separators=(",", ":"), sort_keys=not ordered)
    try:
        text.encode()
    except UnicodeEncodeError:
        return json.dumps(value, allow_nan=False, separators=(",", ":"), sort_keys=not ordered)
    return text


def plain(value: Any) -> Any:
    """Return a value with at most 3 decimals in its numbers and sorted keys; whole numbers lose their decimal point.

    A number that is not finite becomes null, because JSON has no form for it.
    """
    if isinstance(value, float):
        if not isfinite(value):
            return None
        rounded = round(value, DECIMALS)
        return int(rounded) if rounded.is_integer() else rounded
    if isinstance(value, Mapping):
        return {str(key): plain(value[key]) for key in sorted(value, key=str)}
    if isinstance(value, list | tuple):
        return [plain(entry) for entry in value]
    return value
