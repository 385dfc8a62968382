"""Says why nobody knows how much of a lot came from each of its inputs, and what mends it."""

from collections.abc import Iterator

from monitor.app.stock.lot_sheets import LotSheet
from monitor.material import BEFORE_THE_LOG, MaterialRecord, Movement, NodeKind
from monitor.model.work_kinds import declared

_TOLD = 4
"""So many entries are named, and of more only how many."""


def unknown_shares(sheet: LotSheet, record: MaterialRecord) -> Iterator[str]:
    """Yield a sentence for each reason why the dry matter of some inputs of a lot is not told; none if all is known.

    Args:
        sheet: The lot.
        record: The graph and the log.
    """
    unknown = _unknown(sheet, record)
    for bin_ in dict.fromkeys(one.source.id for one in unknown if _is_earlier(one) and one.source is not None):
        yield (
            f"How much came from each is not told: nobody knows what lay in {bin_} before its first entry. If it was empty "
            f"then, `begun` under [bins.{bin_}] in the configuration says so, or `heaptender log emptied {bin_} --at` with a "
            "time before that entry."
        )
    over = [one.entry for one in unknown if not _is_earlier(one) and _is_beyond(one)]
    if over:
        yield (
            f"By {_entries(over)} more was harvested than ever went into the bed by the record: what else lay there, and how "
            "much, nobody wrote down. If a figure is a slip, `heaptender log correct` mends it."
        )
    rest = [one for one in unknown if not (_is_earlier(one) or _is_beyond(one))]
    if unweighed := [one.entry for one in rest if one.wet_g is None]:
        yield (
            f"Nobody knows the weight of {_entries(unweighed)}: say it with `heaptender log correct {unweighed[0]} --amount`, "
            "or weigh a full container into the configuration."
        )
    undried = [one.entry for one in rest if one.wet_g is not None]
    if measured := [one for one in undried if "moisture" in declared(record.entries[one].kind).fields]:
        yield (
            f"Nobody knows the moisture of {_entries(measured)}: if it was measured, say it with "
            f"`heaptender log correct {measured[0]} --moisture`."
        )
    if others := [one for one in undried if one not in measured]:
        yield (
            f"Nobody knows the dry matter of {_entries(others)}: its material has no known figures, or what that was made of "
            "has no known weight."
        )


def _unknown(sheet: LotSheet, record: MaterialRecord) -> list[Movement]:
    nodes = [sheet.node, *(one.found.node for one in sheet.inputs)]
    until = {one.found.node: one.found.until for one in sheet.inputs}
    found = {
        id(move): move
        for node in nodes
        for move in record.graph.into.get(node, ())
        if move.dry_g is None and move.source is not None and move.time <= until.get(node, move.time)
    }
    return sorted(found.values(), key=lambda one: (one.time, one.entry))


def _is_earlier(move: Movement) -> bool:
    return move.entry == BEFORE_THE_LOG


def _is_beyond(move: Movement) -> bool:
    """Return whether a movement stands for what nobody wrote down of a bed that gave more than went in."""
    return move.target.kind is NodeKind.BED and move.source is not None and (
        move.source.kind is NodeKind.EARLIER or (move.source.kind is NodeKind.UNRECORDED and not move.source.id)
    )  # fmt: skip


def _entries(numbers: list[int]) -> str:
    told = list(dict.fromkeys(numbers))
    if len(told) == 1:
        return f"entry {told[0]}"
    shown, more = (told[:-1], str(told[-1])) if len(told) <= _TOLD else (told[:_TOLD], f"{len(told) - _TOLD} more")
    return f"entries {', '.join(map(str, shown))} and {more}"
