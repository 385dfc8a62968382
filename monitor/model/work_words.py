"""A piece of work in words, in the past tense; the same words on the command line, the page and the certificate."""

from collections.abc import Callable

from monitor.model.delivery_risks import risks_said
from monitor.model.forecast_entry import forecast_said
from monitor.model.mix_parts import parts_said
from monitor.model.sightings import sightings_said
from monitor.model.work import Work
from monitor.model.work_kinds import ABSENCE, FRACTIONS, declared

Name = Callable[[str], str]
"""Returns what people call a place, a probe or a contact, from its id, or an instant in words, from its RFC 3339."""


def work_said(
    work: Work, place_name: Name = str, probe_name: Name = str, *, with_note: bool = True,
    contact_name: Name = str, instant: Name = str,
) -> str:  # fmt: skip
    """Describe a piece of work, without its place: `watered 60 L (while turning)`, `fan run 20 min`, `note: lid left open`.

    Args:
        work: The entry.
        place_name: Names places that material went to.
        probe_name: Names the probe that was put in or taken out.
        with_note: Whether the remark stands behind it.
        contact_name: Names the contact who is away.
        instant: Says when they leave and are back.

    Returns:
        A few words without a full stop.
    """
    kind, note = declared(work.kind), work.note if with_note else ""
    if kind.remark_only:
        told = forecast_said(work.day, work.high, work.low) if kind.foretells else ""
        told += f" (from {work.source})" if told and work.source else ""
        said = "; ".join([one for one in (told, note) if one])
        return f"{kind.past}: {said}" if said else kind.past
    if work.lot:
        return _lot_said(work) + (f" ({note})" if note else "")
    words = f"{probe_name(work.probe)} {kind.past}" if kind.probe and work.probe else kind.past
    if kind.fields == ABSENCE:
        words = f"{contact_name(work.contact)} {kind.past} from {instant(work.start)} to {instant(work.end)}"
    if amount := amount_said(work):
        words += f" {amount}"
    if work.what:
        words += f" {'of ' if amount else ''}{work.what}"
    words += f" of {parts_said(work.parts)}" if work.parts else ""
    words += f" from {work.source}" if work.source else ""
    words += f" to {place_name(work.to)}" if work.to else ""
    words += f" at {work.spot}" if work.spot else ""
    words += _figures_said(work) + _more_said(work)
    return words + (f" ({note})" if note else "")


def _figures_said(work: Work) -> str:
    words = f", moisture {work.moisture} %" if work.moisture else ""
    words += f", {work.depth} deep" if work.depth else ""
    fractions = [f"{name} {getattr(work, name)}" for name in FRACTIONS if getattr(work, name)]
    return words + (f": {', '.join(fractions)}" if fractions else "")


def _lot_said(work: Work) -> str:
    """Return work on a lot: `lot made: lot-b1-2026-11-05 of h31/fines`, `given out: 4 kg of lot-b1-2026-11-05 to a school`."""
    amount = f"{amount_said(work)} of " if work.amount and work.receiver else ""
    words = f"{declared(work.kind).past}: {amount}{work.lot}"
    if work.what:
        words += f" of {amount_said(work)} of {work.what}" if work.amount else f" of {work.what}"
    words += f", {work.test} {work.result}".rstrip() if work.test else ""
    words += f" to {work.receiver}" if work.receiver else ""
    return words + (f" for {work.price}" if work.price else "")


def _more_said(work: Work) -> str:
    """Return the risks and the refusal of a delivery, and the sights of a look into a bin."""
    words = f", {risks_said(work.risk)}" if work.risk else ""
    words += f"; refused: {work.refused}" if work.refused else ""
    if declared(work.kind).sights and (seen := sightings_said(work)):
        words += f": {', '.join(seen)}"
    return words


def amount_said(work: Work) -> str:
    """Return the amount as typed: `60 L`; "" if there is none."""
    return f"{work.amount} {work.measure or work.unit}".strip() if work.amount else ""
