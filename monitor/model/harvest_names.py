"""Names of harvests and of their parts: `h31` is the harvest of entry 31, `h31/overs` what stayed on the screen of it."""

import re

from monitor.model.work import Work
from monitor.model.work_kinds import FRACTIONS

WORMS = "worms"
"""The word for worms as a material."""
PARTS = (*FRACTIONS, WORMS)
"""The parts of a harvest that go their own ways."""
_PART = "|".join(PARTS)
_NAMED = re.compile(rf"(?:({_PART})\s+(?:of\s+)?)?(h[0-9]{{1,9}})(?:\s*/\s*({_PART}))?", re.IGNORECASE)


def harvest_id(number: int) -> str:
    """Return the name of the harvest that an entry's number stands for."""
    return f"h{number}"


def harvest_part(text: str) -> tuple[str, str] | None:
    """Return (harvest, part or "") of `h31`, `h31/fines`, `fines h31` or `fines of h31`; None for any other text."""
    found = _NAMED.fullmatch(text.strip())
    if found is None or (found[1] and found[3]):
        return None
    return found[2].casefold(), (found[1] or found[3] or "").casefold()


def material_name(work: Work) -> str:
    """Return the name of what an entry used: `h31/overs` also where it says `overs` from `h31`."""
    what = work.what.strip()
    if (named := harvest_part(what)) is not None:
        return "/".join(filter(None, named))
    origin = harvest_part(work.source) if what.casefold() in PARTS else None
    return f"{origin[0]}/{what.casefold()}" if origin is not None and not origin[1] else what


def screened_from(name: str) -> str:
    """Return the name before the slash of `p1-2026-03-01/overs`, or before that of another fraction; else ""."""
    whole, slash, part = name.strip().rpartition("/")
    return whole.rstrip() if slash and part.strip().casefold() in FRACTIONS else ""
