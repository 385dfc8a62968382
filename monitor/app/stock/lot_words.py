"""Lots in words and as JSON: the sheet of one, its label's words, all that went in, and who has something of a bad delivery."""

from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from monitor.app.console.measures import Measures
from monitor.app.stock.lot_rest import LotRest
from monitor.app.stock.lot_sheets import Given, LotSheet
from monitor.app.stock.stock_words import entry_of, risks_asked
from monitor.app.stock.unknown_shares import unknown_shares
from monitor.app.yard.effect_words import local_time
from monitor.material import MaterialRecord, Node, NodeKind, Outcome, TracedInput, Treated
from monitor.model.delivery_risks import risk_clause
from monitor.model.harvest_names import WORMS, harvest_part
from monitor.model.settings import Settings
from monitor.model.times import show_time
from monitor.model.work_kinds import FRACTIONS
from monitor.model.work_words import amount_said

OPENING = (
    "Open the bag outdoors or in a well-aired place and away from the face, keep it damp, and wash your hands: compost and "
    "castings carry moulds and bacteria, at times Legionella. People with a weak immune system or lungs let others do it."
)
PERMIT = "A record of heat is evidence and no permit; what may be sold, and how it is labelled, local rules decide."
HERBICIDE = "Weed killer can outlast a heap: sow beans in some of it before it goes onto beds."


def treated_words(sheet: LotSheet) -> str:
    """Return the label's words on heat: only what the record proves."""
    worms = any(one.food and one.found.node == Node(NodeKind.UNRECORDED, WORMS) for one in sheet.inputs)
    later = "food and worms added later were not" if worms else "food added later was not"
    records = f"record{'s' if len(sheet.records) > 1 else ''} {', '.join(sheet.records)}"
    return {
        Treated.ALL: f"All inputs heat treated ({records})",
        Treated.BEDDING: f"Bedding heat treated ({records}); {later}",
        Treated.SINCE: f"Heat treated in part ({records}); what lay in the bed before the record is not known",
        Treated.PART: f"Heat treated in part ({records}); the rest was not",
        Treated.NOTHING: "Not heat treated, as far as anything is recorded",
        Treated.UNKNOWN: "Nothing is recorded of what went in",
    }[sheet.treated]


def status_of(sheet: LotSheet) -> str:
    """Return the state of a lot in a word: `held back`, `all given out`, or `not held back`."""
    if sheet.held:
        return "held back"
    return "all given out" if sheet.rest.is_gone and sheet.given else "not held back"


def list_lines(sheets: Sequence[LotSheet], settings: Settings, measures: Measures, now: int) -> Iterator[str]:
    """Yield a line for each lot.

    Args:
        sheets: The lots.
        settings: The settings in force.
        measures: The yard's measures.
        now: When the words are read, UTC ms; the year stands beside days of another one.
    """
    if not sheets:
        yield 'There is no lot yet. A harvest becomes one: heaptender lots make h31, or heaptender lots make "h31/fines".'
    for sheet in sheets:
        yield f"{sheet.node.id}: {left_words(sheet, measures)}, {status_of(sheet)}{_why(sheet)}"
        heat = treated_words(sheet)
        yield f"    made {local_time(sheet.made.time, settings, now)}; {heat[:1].lower()}{heat[1:]}"


def trace_lines(
    sheet: LotSheet, record: MaterialRecord, settings: Settings, measures: Measures, now: int
) -> Iterator[str]:
    """Yield the lines of a lot's sheet: what went in, what may be said of it, and who has it.

    Args:
        sheet: The lot.
        record: The graph and the log.
        settings: The settings in force.
        measures: The yard's measures.
        now: When the words are read, UTC ms; the year stands beside days of another one.
    """
    made = local_time(sheet.made.time, settings, now)
    yield f"{sheet.node.id}, made {made}: {left_words(sheet, measures)}, {status_of(sheet)}{_why(sheet)}"
    yield f"{treated_words(sheet)}."
    for risk, nodes in sheet.risks.items():
        yield f"Risk: {risk}, by {', '.join(nodes)}."
    for certain, head in ((True, "It contains"), (False, "It may contain")):
        some = [one for one in sheet.inputs if one.found.certain is certain]
        if some:
            yield f"{head}:"
            for one in some:
                yield f"  {input_words(one, record, settings, measures, now)}"
    if not sheet.inputs:
        yield "Nothing is recorded of what went into it."
    yield from parts_gone(sheet, record)
    yield from unknown_shares(sheet, record)
    for work in sheet.tests:
        note = f" ({work.note})" if work.note else ""
        yield f"{work.test}: {work.result}, {local_time(work.time, settings, now)}{note}"
    yield from _given_lines(sheet.given, settings, measures, now)


def recall_lines(
    nodes: Sequence[Node],
    lots: Sequence[tuple[Outcome, LotSheet]],
    others: Iterable[Outcome],
    settings: Settings,
    measures: Measures,
    now: int,
) -> Iterator[str]:
    """Yield the lots that have, or may have, something of some nodes, who has them, and what else has some of it.

    Args:
        nodes: What is asked about.
        lots: The lots, each with its sheet.
        others: Everything else that came of it and is no lot.
        settings: The settings in force.
        measures: The yard's measures.
        now: When the words are read, UTC ms; the year stands beside days of another one.
    """
    asked = ", ".join(one.id for one in nodes)
    there = [
        one for one in others if one.node.kind in (NodeKind.BATCH, NodeKind.BED, NodeKind.HARVEST, NodeKind.FRACTION)
    ]
    if there:
        words = ", ".join(one.node.id if one.certain else f"{one.node.id} (may have)" for one in there)
        yield f"{asked} went into {words}."
    if not lots:
        yield f"No lot has anything of {asked}, by the record."
        return
    people = sorted({given.work.receiver for _, sheet in lots for given in sheet.given})
    if people:
        yield f"Tell {', '.join(people)}."
    for outcome, sheet in lots:
        has = "has some of it" if outcome.certain else "may have some of it"
        own = "" if outcome.node in nodes else f" {has},"
        yield f"{sheet.node.id}{own} {left_words(sheet, measures)}"
        yield from _given_lines(sheet.given, settings, measures, now)


def kind_of_lot(sheet: LotSheet) -> str:
    """Return the kind of a lot: `Worm castings` if any of it lay in a worm bed, else `Compost`."""
    made_of = {one.found.node.kind for one in sheet.inputs}
    return "Worm castings" if made_of & {NodeKind.BED, NodeKind.HARVEST} else "Compost"


def parts_gone(sheet: LotSheet, record: MaterialRecord) -> Iterator[str]:
    """Yield a sentence for each part of a harvest that a lot was made of and that no screening weighs any more.

    Args:
        sheet: The lot.
        record: The graph and the log.
    """
    for name in (one.strip() for one in sheet.made.what.split(",")):
        part = harvest_part(name)
        if part is not None and part[1] in FRACTIONS and record.graph.named(name.casefold()) is None:
            yield (
                f"It was made of {name}, which no screening in the log says to be there: it counts as some of {part[0]}, and "
                f"nobody knows how much. Write the screening down, or take the lot back (heaptender log undo {sheet.number})."
            )


def day_words(at: int, settings: Settings) -> str:
    """Return the yard's own day of an instant (UTC ms): `22 Nov 2026`."""
    moment = datetime.fromtimestamp(at / 1000, ZoneInfo(settings.site.time_zone))
    return f"{moment.day} {moment:%b %Y}"


def trace_json(sheet: LotSheet, record: MaterialRecord) -> dict[str, Any]:
    """Return a lot as plain JSON, the shape that scripts rely on; masses in kg.

    Args:
        sheet: The lot.
        record: The graph and the log.
    """
    return {
        "lot": sheet.node.id,
        "status": status_of(sheet),
        "held": list(sheet.held),
        "made": show_time(sheet.made.time),
        "treated": sheet.treated.value,
        "records": list(sheet.records),
        "words": treated_words(sheet),
        "inputs": [
            {
                "kind": one.found.node.kind.value,
                "id": one.found.node.id,
                "certain": one.found.certain,
                "heat_status": None if one.heat is None else one.heat.value,
                "risks": list(one.risks),
                **risks_asked(record, one.found.node),
                "dry_kg": _kg(one.found.dry_g),
            }
            for one in sheet.inputs
        ],
        "tests": [{"test": one.test, "result": one.result, "time": show_time(one.time)} for one in sheet.tests],
        **_given_json(sheet),
    }


def recall_json(lots: Sequence[tuple[Outcome, LotSheet]]) -> dict[str, Any]:
    """Return the lots of a recall as plain JSON, the shape that scripts rely on; masses in kg."""
    return {
        "lots": [{"lot": sheet.node.id, "certain": outcome.certain, **_given_json(sheet)} for outcome, sheet in lots]
    }


def _given_json(sheet: LotSheet) -> dict[str, Any]:
    return {
        "left_kg": _kg(sheet.left_g),
        "left_at_most_kg": _kg(None if sheet.rest.most_g is None else max(0, sheet.rest.most_g)),
        "given": [
            {"to": one.work.receiver, "time": show_time(one.work.time), "kg": _kg(one.wet_g), "price": one.work.price}
            for one in sheet.given
        ],
    }


def _kg(grams: int | None) -> float | None:
    return None if grams is None else grams / 1000


def left_words(sheet: LotSheet, measures: Measures) -> str:
    """Return how much is left of a lot, in words."""
    return rest_words(sheet.rest, measures)


def rest_words(rest: LotRest, measures: Measures) -> str:
    """Return how much is left of a lot whose rest is known, in words."""
    made, left = rest.mass.known_g, rest.left_g
    if left is None and rest.counted is not None:
        return rest.counted.said()
    if rest.most_g is not None and made <= 0:
        return "nobody knows how much is in it: by the record nothing was left to make it of"
    if rest.most_g is not None and rest.most_g < 0:
        return f"{measures.mass(-rest.most_g)} more was given out than went in"
    if left is None and rest.most_g is not None:
        return f"at most {measures.mass(rest.most_g)} of {measures.mass(made)} left: not all gifts were weighed"
    if left is None:
        return "nobody knows how much is left"
    return f"{measures.mass(left)} of {measures.mass(made)} left"


def _why(sheet: LotSheet) -> str:
    return f" ({'; '.join(sheet.held)})" if sheet.held else ""


def _given_lines(given: Sequence[Given], settings: Settings, measures: Measures, now: int) -> Iterator[str]:
    for one in given:
        much = amount_said(one.work) or ("an unknown amount" if one.wet_g is None else measures.mass(one.wet_g))
        price = f" for {one.work.price}" if one.work.price else ""
        yield f"  {one.work.receiver}: {much}{price}, {local_time(one.work.time, settings, now)}"


def input_words(one: TracedInput, record: MaterialRecord, settings: Settings, measures: Measures, now: int) -> str:
    """Return an input of a lot in words, with who brought it, heat and risks.

    Args:
        one: The input.
        record: The graph and the log.
        settings: The settings in force.
        measures: The yard's measures.
        now: When the words are read, UTC ms; the year stands beside days of another one.
    """
    node = one.found.node
    words = _named(node, record)
    if one.found.dry_g:
        words += f", {measures.mass(one.found.dry_g)} dry"
    if heat := heat_words(one):
        words += f", {heat}"
    if told := risks_known(node, record):
        words += f", {told}"
    return f"{words}, until {local_time(one.found.until, settings, now)}" if node.kind is NodeKind.BED else words


def risks_known(node: Node, record: MaterialRecord, *, names: bool = True) -> str:
    """Return the known risks of a delivery, in a clause; "" for any other node.

    Args:
        node: The node.
        record: The graph and the log.
        names: Whether whoever said so may be named.
    """
    work = record.entries.get(entry_of(node.id)) if node.kind is NodeKind.DELIVERY else None
    return "" if work is None else risk_clause(work.risk, work.by if names else "")


def heat_words(one: TracedInput) -> str:
    """Return the words for the heat of an input: `heat treated`; "" for an input that has none of its own."""
    if one.heat is None:
        return ""
    if one.found.node.kind is NodeKind.EARLIER:
        return "nobody knows whether it was heated" + (", heated since" if one.shielded else "")
    return _HEAT[one.heat.value] + (" when it came in, heated since" if one.shielded else "")


_HEAT = {
    "raw": "not heated",
    "running": "not hot for long enough",
    "met": "heat treated",
    "void": "raw material came in since",
}


def _named(node: Node, record: MaterialRecord) -> str:
    if node.kind is NodeKind.DELIVERY:
        work = record.entries[int(node.id[1:])]
        whom = f" from {work.source}" if work.source else ""
        return f"{node.id}: {work.what}{whom}"
    if node == Node(NodeKind.UNRECORDED, WORMS):
        return "worms that were brought"
    if node.kind is NodeKind.UNRECORDED:
        return f"{node.id or 'material'} of which no delivery is written down"
    return earlier_words(node) if node.kind is NodeKind.EARLIER else f"{node.kind.value} {node.id}"


def earlier_words(node: Node) -> str:
    """Return the words for whatever lay in a bin when its log began."""
    return f"what lay in {node.id} before the record"
