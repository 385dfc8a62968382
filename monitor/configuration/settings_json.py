"""The settings as canonical JSON, the payload of the `settings` event, and back.

Rules: keys sorted by code point, no blanks, UTF-8, every number an integer; equal settings give equal bytes. A yard
without rules of its own has no key `rules`, and a probe without a stated uncertainty no key `uncertainty_milli_k`, so that
records from before those keys existed keep their bytes.
"""

import json
from functools import cache

from pydantic import TypeAdapter, ValidationError

from monitor.model.errors import InvariantError
from monitor.model.settings import Settings


@cache
def _adapter() -> TypeAdapter[Settings]:
    return TypeAdapter(Settings)


def canonical_settings(settings: Settings) -> str:
    """Return the canonical JSON of everything the engine uses."""
    plain = _adapter().dump_python(settings, mode="json")
    if not plain["rules"]:
        del plain["rules"]
    for probe in plain["probes"].values():
        if probe["uncertainty_milli_k"] is None:
            del probe["uncertainty_milli_k"]
    return json.dumps(plain, ensure_ascii=False, sort_keys=True, separators=(",", ":"), allow_nan=False)


def settings_of(text: str) -> Settings:
    """Return the settings in a canonical JSON text.

    Raises:
        InvariantError: `canonical_settings` did not write the text.
    """
    try:
        return _adapter().validate_json(text)
    except ValidationError as fault:
        raise InvariantError(f"stored settings cannot be read: {fault.errors()[0]['msg']}") from fault
