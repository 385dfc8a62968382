"""Finds the entries that rest on what another entry brought: a delivery, a harvest, what passed a screen, a lot.

Nothing refuses to take such an entry back, but what names it would then lead nowhere: a lot of a harvest that is no longer
in the record is in no list and in no recall. Most people name a delivery by its material; without it the risks that came
with it would be gone from every bag, and nobody would be asked.
"""

import re
from collections.abc import Iterable, Sequence

from monitor.app.entries.entry_log import Numbered
from monitor.model.harvest_names import harvest_part, material_name
from monitor.model.mix_parts import parts_of
from monitor.model.work import Work, WorkKind


def naming_question(entries: Sequence[Numbered], found: Numbered, right: Work | None = None) -> str:
    """Return the question before an entry is taken back, or put right, on which others rest; "" if none does.

    Args:
        entries: The whole log.
        found: The entry.
        right: The work that it would become; None: it is taken back. Only of a delivery anything is lost then: a risk, or
            the delivery itself under its name.
    """
    called = "" if right is not None else _called(entries, found)
    numbers = [
        one.number
        for one in entries
        if called and one is not found and not one.undone and one.work is not None and called in _names(one.work)
    ]
    if not numbers:
        return _use_question(entries, found, right)
    whole = f"parts of {called.removesuffix('/')}" if called.endswith("/") else called
    return (
        f"{_entries(numbers, 'name', 'names')} {whole}, which would no longer be in the record, nor what was made of it. "
        "Take it back all the same?"
    )


def _use_question(entries: Iterable[Numbered], found: Numbered, right: Work | None) -> str:
    """Ask about a delivery whose material was used by its name after it came in.

    Args:
        entries: The whole log.
        found: The delivery.
        right: The work that it would become; None: it is taken back.
    """
    old = found.work
    if old is None or old.kind is not WorkKind.DELIVERY or old.refused:
        return ""
    goes = right is None or bool(right.refused) or _plain(right.what) != _plain(old.what)
    lost = _risks(old) if goes or right is None else _risks(old) - _risks(right)
    name = _plain(old.what)
    users = [
        one.number
        for one in entries
        if not one.undone and one.work is not None and one.work.time >= old.time and name in _used(one.work)
    ]
    if not users or not (goes or lost):
        return ""
    said = [f"{_entries(users, 'used', 'used')} {old.what} after d{found.number} came in."]
    if lost:
        risks = f"risk of {' and '.join(sorted(lost))}"
        said.append(f"Its {risks} would be gone from every heap, bed and lot that may have some of it.")
    if goes:
        said.append(f"A recall of d{found.number} would name nobody any more.")
    return " ".join([*said, "Is that so?" if right is not None else "Take it back all the same?"])


_NO_USE = frozenset({WorkKind.DELIVERY, WorkKind.COUNTED, WorkKind.SAMPLED, WorkKind.LOT})
"""Kinds of work that name a material and put none of it anywhere."""
_TOLD = 4
"""So many numbers of entries are told, and of more only how many."""


def _entries(numbers: Sequence[int], many: str, single: str) -> str:
    """Return `Entry 3 names` or `Entries 3, 5 and 8 name`; of a long row only the first.

    Args:
        numbers: The entries' numbers.
        many: The verb of several.
        single: The verb of a single one.
    """
    if len(numbers) == 1:
        return f"Entry {numbers[0]} {single}"
    shown, more = (numbers[:-1], str(numbers[-1])) if len(numbers) <= _TOLD + 1 else (
        numbers[:_TOLD], f"{len(numbers) - _TOLD} more"
    )  # fmt: skip
    return f"Entries {', '.join(map(str, shown))} and {more} {many}"


def _risks(work: Work) -> set[str]:
    return {one.strip() for one in work.risk.split(",") if one.strip() not in ("", "none")}


def _plain(text: str) -> str:
    return " ".join(text.casefold().split())


def _used(work: Work) -> set[str]:
    """Return the materials that an entry put somewhere, by name in small letters."""
    if work.kind in _NO_USE:
        return set()
    return {_plain(text) for text in (*(one.name for one in parts_of(work.parts)), work.what) if text}


def _called(entries: Iterable[Numbered], found: Numbered) -> str:
    """Return the name by which other entries can call what an entry brought, in small letters; "" for none."""
    work = found.work
    if work is None:
        return ""
    if work.kind is WorkKind.SCREENED:
        return _screened(entries, work)
    letter = {WorkKind.DELIVERY: "d", WorkKind.HARVESTED: "h"}.get(work.kind)
    if letter is not None:
        return f"{letter}{found.number}"
    return work.lot.casefold() if work.kind is WorkKind.LOT else ""


def _screened(entries: Iterable[Numbered], work: Work) -> str:
    """Return the name that the parts of a screening begin with: `h31/` or, after the second, `h31/fines/`."""
    if work.what:
        return "/".join(filter(None, harvest_part(work.what) or ())) + "/" if harvest_part(work.what) else ""
    before = [
        one
        for one in entries
        if one.work is not None and not one.undone and one.work.kind is WorkKind.HARVESTED
        and one.work.place == work.place and one.work.time <= work.time
    ]  # fmt: skip
    newest = max(before, key=lambda one: one.work.time if one.work else 0, default=None)
    return f"h{newest.number}/" if newest is not None else ""


def _names(work: Work) -> set[str]:
    """Return everything by name that an entry uses, in small letters: deliveries, harvests (also by their parts), lots."""
    texts = [
        *(one.name for one in parts_of(work.parts)),
        material_name(work),
        *re.split(r"\s*,\s*", work.what),
        work.lot,
    ]
    plain = {text.strip().casefold() for text in texts if text}
    begun = {text[: at + 1] for text in plain for at, letter in enumerate(text) if letter == "/"}
    return plain | begun | {part[0] for text in plain if (part := harvest_part(text)) is not None}
