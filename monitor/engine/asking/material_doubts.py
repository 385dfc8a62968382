"""Doubts about the material that an entry names: under another name it is another material, and the stock no longer adds up.

1. People are asked about a name that never came up before, if a part of it, or something nearly like it, came in: *litter*
   or *leafs* where *stable litter* and *leaves* were delivered. Once a name was taken, nobody asks about it again.
2. The name of a pile is no material: what lies there is named by its heap (`p1-2026-10-05`).
3. A delivery or a harvest that no entry brought (`d99`) is asked about, also where a lot is made of it or it is screened.
4. Deliveries, heaps, lots, harvests and their parts have names of their own, and worms and water come from anywhere.
"""

import difflib
import re
from collections.abc import Callable, Iterator, Sequence

from monitor.engine.asking.left_over import left_over
from monitor.model.harvest_names import PARTS, harvest_part, material_name
from monitor.model.mix_parts import parts_of
from monitor.model.settings import Settings
from monitor.model.work import Work, WorkKind
from monitor.model.work_kinds import declared
from monitor.model.work_words import amount_said
from monitor.notices import clean

ALIKE = 0.7
"""Words at least this alike (the ratio of difflib, from 0 to 1) may be a slip (our choice)."""
_OF_ITS_OWN = re.compile(r"d[0-9]+|lot-.+|.+-[0-9]{4}-[0-9]{2}-[0-9]{2}(-[0-9]+)?", re.IGNORECASE)
_FROM_ANYWHERE = frozenset({*PARTS, "water"})


def material_doubts(
    settings: Settings, entries: Sequence[tuple[int, Work]], work: Work, heap_on: Callable[[str], str]
) -> Iterator[str]:
    """Yield the questions about the names of material in an entry.

    Args:
        settings: The settings in force.
        entries: (number, work as corrected) of every entry that stands, without the one asked about; empty if
            they are not all known: then only places are asked about.
        work: The entry.
        heap_on: Returns the heap that lay on a pile when the work was done, "" if none.

    Yields:
        A question for each doubtful name.
    """
    if not _names_material(work):
        for name in re.split(r"\s*,\s*", material_name(work)):
            if entries and (missing := _missing(_plain(name), entries)):
                yield f"There is no {missing} in the record. Is the name right?"
        return
    used = {_plain(name) for _, one in entries if _names_material(one) for name in _names(one)}
    came = {
        _plain(name): (name, number, one)
        for number, one in sorted(entries, key=lambda entry: entry[1].time)
        if declared(one.kind).stocks and not one.refused
        for name in _names(one)
    }
    for name in _names(work):
        plain, shown = _plain(name), clean(name, 40)
        if entries and (missing := _missing(plain, entries)):
            yield f"There is no {missing} in the record. Is the name right?"
        if not plain or plain in _FROM_ANYWHERE or harvest_part(name) is not None or _OF_ITS_OWN.fullmatch(plain):
            continue
        pile = next((id_ for id_ in settings.piles if plain in (_plain(id_), _plain(settings.place_name(id_)))), "")
        if pile:
            heap = heap_on(pile)
            meant = f'; the heap that lay there is called "{heap}"' if heap else ""
            yield f'"{shown}" is a place, and would be taken for a material of that name{meant}. Is the name right?'
        elif plain not in used and (near := next((one for one in reversed(came) if _near(plain, one)), None)):
            known, number, last = came[near]
            told = ", ".join(filter(None, (f"entry {number}" if number else "", amount_said(last))))
            told = f" ({told})" if told else ""
            left = left_over((one for _, one in entries), known)
            told += f", and {left} are left" if left else ""
            yield f'By the record no "{shown}" ever came in, but "{clean(known, 40)}" did{told}. Is the name right?'


def _names_material(work: Work) -> bool:
    row = declared(work.kind)
    return row.stocks or row.fills


def _missing(plain: str, entries: Sequence[tuple[int, Work]]) -> str:
    """Return the delivery or harvest that a name means and no entry brought; "" if there is none."""
    part = harvest_part(plain)
    called = part[0] if part is not None else plain
    if not re.fullmatch(r"[dh][0-9]{1,9}", called):
        return ""
    kind = WorkKind.DELIVERY if called[0] == "d" else WorkKind.HARVESTED
    there = any(number == int(called[1:]) and one.kind is kind for number, one in entries)
    return "" if there else called


def _names(work: Work) -> list[str]:
    return [one.name for one in parts_of(work.parts)] or [name for name in [material_name(work)] if name]


def _near(one: str, other: str) -> bool:
    """Return whether one name may stand for another: a part of its words, or as many words that are each nearly alike."""
    mine, yours = one.split(), other.split()
    if re.findall(r"\d+", one) != re.findall(r"\d+", other) and len(mine) == len(yours):
        return False
    if set(mine) < set(yours) or set(yours) < set(mine):
        return True
    return len(mine) == len(yours) and all(
        difflib.SequenceMatcher(None, a, b).ratio() >= ALIKE for a, b in zip(mine, yours, strict=True)
    )


def _plain(name: str) -> str:
    return " ".join(name.casefold().split())
