"""Fills the forms on a place's sheet: kinds of work, units, spots, and last time's amounts."""

from collections.abc import Mapping
from typing import Any

from monitor.engine import foreseen
from monitor.model.amounts import known_amount
from monitor.model.sightings import SIGHTINGS, SQUEEZES
from monitor.model.times import DAY_MS
from monitor.model.work import WorkKind
from monitor.model.work_kinds import FIGURES, FRACTIONS, Where
from monitor.model.work_kinds import kinds as work_kinds
from monitor.notices import DUST, LIFTING
from monitor.page.forms.work_form import BIN_KINDS, PILE_KINDS, TARGETS, units_for
from monitor.page.places.needs import name_of
from monitor.page.places.place_view import PlaceView
from monitor.page.ports import Look

LAST_TIME_MS = 90 * DAY_MS
"""How far back last time's amounts are looked up, ms."""
_CARES = {WorkKind.SCREENED: DUST, WorkKind.HARVESTED: LIFTING}
_WHAT_HINTS = {
    WorkKind.ADDED: "a material, or a batch by its id; without a name it counts as raw",
    WorkKind.SAMPLED: "worms, if they were weighed; else the material",
    WorkKind.SCREENED: "a batch or a harvest by its id; without a name the newest of this place",
}
_HINTS = {
    "moisture": "percent of the wet mass, if it was measured",
    "fines": "passed ⅛ in (3.2 mm); with its unit",
    "middle": "passed ¼ in (6.4 mm) and not ⅛ in",
    "overs": "stayed on the screen",
    "depth": "of the bed, with its unit, if it was measured",
}
_LAYER = "of the layer that was taken, with its unit"
_SIGHTS = {
    name: {word: f"{word}: {SQUEEZES[word][0]}" if name == "squeeze" else word for word in words}
    for name, words in SIGHTINGS.items()
}
"""The words of each sight in a look into a bin, as the form shows them."""

_FIGURES = {
    row.kind.value: tuple(
        (name, _LAYER if name == "depth" and row.kind is WorkKind.HARVESTED else _HINTS[name])
        for name in row.fields
        if name in FIGURES
    )
    for row in work_kinds()
}
"""The figures beside the amount that each kind of work asks for, with a hint."""
_QUICK = {
    where: tuple(
        row.kind
        for row in work_kinds(where)
        if row.own_form and not row.probe and not row.turns and (where is Where.BIN or not _FIGURES[row.kind.value])
    )
    for where in (Where.PILE, Where.BIN)
}
"""Kinds of work with their own form on a place's sheet; all others use *other work*. A heap is rarely screened or sampled, so a
fold of *other work* asks for the figures there."""
_ALONE = {
    where: tuple(
        row.kind
        for row in work_kinds(where)
        if row.remark_only or row.sights or (row.kind in quick and _FIGURES[row.kind.value])
    )
    for where, quick in _QUICK.items()
}
"""Kinds that *other work* leaves out: only their own form asks for all that they need."""


def forms_offered(look: Look, view: PlaceView) -> dict[str, Any]:
    """Return the values that a place's template needs for its forms."""
    settings = look.engine.state.settings
    kinds = BIN_KINDS if view.is_bin else PILE_KINDS
    return {
        "kinds": kinds,
        "targets": [(one, name_of(look.engine, one)) for one in settings.piles if one != view.place],
        "target_kinds": TARGETS,
        "units": _units(look, view.place, kinds),
        "named": {row.kind.value for row in work_kinds() if "what" in row.fields},
        "what_hints": _WHAT_HINTS,
        "cares": _CARES,
        "spotted": (WorkKind.SAMPLED,),
        "sights": _SIGHTS,
        "figures": _FIGURES,
        "shared": tuple(one for one in kinds if one not in _ALONE[Where.BIN if view.is_bin else Where.PILE]),
        "figured": () if view.is_bin else ("what", "moisture", *FRACTIONS),
        "spots": settings.spots_of(view.place),
        "foreseen": foreseen(look.engine.core, view.place, look.now),
        "suggested": _suggested(look, view.place),
    }


def form_of(kept: Mapping[str, str], *, is_bin: bool) -> str:
    """Return which form of a place's sheet was sent, so that the fault stands there."""
    form = kept.get("form", "")
    if form in (*_QUICK[Where.BIN if is_bin else Where.PILE], "reading", "mark", "other"):
        return form
    return "reading" if any(name.startswith("value") for name in kept) else ""


def _units(look: Look, place: str, kinds: tuple[WorkKind, ...]) -> dict[str, list[str]]:
    """Return the units that each form offers, the one used last for that work first; for *other work* all of them."""
    settings = look.engine.state.settings
    last: dict[WorkKind, str] = {}
    for entry in look.works(place, look.now - LAST_TIME_MS):
        if amount := known_amount(entry.work.amount, entry.work.measure, entry.work.unit):
            last[entry.work.kind] = amount.unit
    offered = {kind.value: units_for(settings, kind, last.get(kind, "")) for kind in kinds}
    return offered | {"": list(dict.fromkeys(unit for units in offered.values() for unit in units))}


def _suggested(look: Look, place: str) -> dict[str, str]:
    """Return the amount of the last piece of work of each kind, which is likely right again."""
    last = look.works(place, look.now - LAST_TIME_MS)
    return {entry.work.kind.value: entry.work.amount for entry in last if entry.work.amount}
