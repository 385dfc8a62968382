"""Doubts about what is done with lots, as questions before anything is written down: made of what, given out, tested."""

import difflib
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from monitor.app.console.measures import Measures
from monitor.app.stock.lot_rest import in_terms
from monitor.app.stock.lot_sheets import LotSheet
from monitor.app.yard.effect_words import local_time
from monitor.app.yard.yard_scales import scales_of
from monitor.configuration import Configuration
from monitor.material import CASTINGS, WEIGHING_PERCENT, Left, MaterialRecord, Node, NodeKind, Tally, Weighed
from monitor.model.amounts import Amount, parse_amount, unit_shown
from monitor.model.errors import MisuseError
from monitor.model.moisture_words import moisture_understood
from monitor.model.times import DAY_MS
from monitor.model.work import WorkKind
from monitor.model.work_entry import is_us
from monitor.model.work_kinds import FRACTIONS
from monitor.model.work_words import amount_said

_ALIKE = 0.7
"""Names of tests at least this alike (the ratio of difflib, from 0 to 1) may be a slip (our choice)."""
_SAME_GIFT_MS = DAY_MS
"""Of two gifts of a lot to the same person less than this apart, one may be written down twice (our choice)."""

Missing = Callable[[Node, int], str]
"""Returns what a heap's rule misses at an instant (UTC ms), in a clause with the rule's name; "" if nothing."""


@dataclass(frozen=True, slots=True)
class Making:
    """A lot as somebody wants to make it.

    Attributes:
        sources: What it is made of.
        at: When, UTC ms.
        amount: How much of a single source, as typed; "": all that is left of each.
        moisture: Its moisture as typed, or "".
    """

    sources: Sequence[Node]
    at: int
    amount: str = ""
    moisture: str = ""


def doubts_of_making(
    record: MaterialRecord, making: Making, missing: Missing, configuration: Configuration, measures: Measures
) -> str:
    """Return the doubts about making a lot, as a question; "" if there are none.

    Args:
        record: The graph and the log.
        making: What it is to be made of.
        missing: Tells what the rule of a heap misses.
        configuration: The configuration, for its containers.
        measures: The yard's measures.

    Raises:
        MisuseError: The amount or the moisture cannot be understood.
    """
    if making.amount:
        doubts = [_too_much(record, making, configuration, measures)]
    else:
        doubts = [_of_the_rest(record, making.sources, measures)]
    return " ".join([*filter(None, doubts), *_unmet(making, missing)])


def _of_the_rest(record: MaterialRecord, sources: Sequence[Node], measures: Measures) -> str:
    """Ask about making a lot of all that is left of sources."""
    names = {one.id.casefold() for one in sources}
    for one in sources:
        again = record.graph.named(f"{one.id}/{FRACTIONS[0]}")
        if again is not None:
            once_more = " again" if one.kind is NodeKind.FRACTION else ""
            return (
                f"{one.id} was screened{once_more}, and what passed then is {again.id}; "
                f"{_rest_said(record.graph.left(one), measures)}. Is a lot of the rest meant?"
            )
    for work in record.entries.values():
        taken = names & {one.strip().casefold() for one in work.what.split(",")}
        if work.kind is WorkKind.LOT and not work.amount and taken:
            return f"{work.lot} has all that was left of {', '.join(sorted(taken))} already. Is this another lot of it?"
    for one in sources:
        left = record.graph.left(one)
        if record.graph.out_of.get(one) and not left.unclear and left.wet_g <= 0:
            return f"By the record nothing is left of {one.id}. If some is, say how much with --amount. Is it the right one?"
    return ""


def _too_much(record: MaterialRecord, making: Making, configuration: Configuration, measures: Measures) -> str:
    """Ask about a lot that takes more dry matter than is left of its source."""
    (source,) = making.sources
    left = record.graph.left(source)
    asked = _weighed(making, source, configuration)
    if asked is None:
        come = Tally.wet(record.graph.into.get(source, ()))
        if left.unclear or come.unknown or left.wet_g * 100 > come.known_g * WEIGHING_PERCENT:
            return ""
        return f"By the record as good as nothing is left of {source.id}. Is it the right one?"
    if not left.is_exceeded_by(asked):
        return ""
    if left.wet_g <= 0 and (left.undried or left.dry_g <= 0):
        return f"By the record nothing is left of {source.id}. Is it the right one?"
    dry = "" if asked.dry_g is None or left.undried else f", {measures.mass(asked.dry_g)} dry"
    return (
        f"By the record {_said(left, measures)} are left of {source.id}; this is {measures.mass(asked.wet_g)}{dry}. "
        "Is the amount right?"
    )


def _rest_said(left: Left, measures: Measures) -> str:
    if left.unclear:
        return "nobody knows how much of it is left"
    if left.wet_g <= 0:
        return "by the record nothing is left of it"
    return f"by the record {_said(left, measures).removesuffix(',')} are left of it"


def _said(left: Left, measures: Measures) -> str:
    dry = "" if left.undried else f", {measures.mass(max(0, left.dry_g))} dry,"
    return f"{measures.mass(left.wet_g)}{dry}"


def _weighed(making: Making, source: Node, configuration: Configuration) -> Weighed | None:
    amount = understood(making.amount, configuration)
    material = "" if source.kind is NodeKind.BATCH else CASTINGS
    mass = scales_of(configuration).weigh(material, amount)
    try:
        moisture = moisture_understood(making.moisture)
    except ValueError as fault:
        raise MisuseError(f"{fault}.") from None
    if mass is None or not moisture:
        return mass
    return Weighed(mass.wet_g, round(mass.wet_g * (100 - float(moisture)) / 100), mass.measured)


def _unmet(making: Making, missing: Missing) -> Iterator[str]:
    """Ask about heaps whose rule is not met yet: such a lot is called not heat treated for good."""
    for one in making.sources:
        if what := missing(one, making.at):
            yield f"No rule is met yet by {one.id}: {what}. Its label will not say heat treated. Make a lot of it all the same?"


def doubts_of_giving(
    sheet: LotSheet, amount: str, receiver: str, at: int, configuration: Configuration, measures: Measures
) -> str:
    """Return the doubts about giving some of a lot out, as a question; "" if there are none.

    Args:
        sheet: The lot.
        amount: The amount, as typed.
        receiver: Who got it.
        at: When it was given, UTC ms.
        configuration: The configuration, for its containers.
        measures: The yard's measures.

    Raises:
        MisuseError: The amount cannot be understood.
    """
    much = understood(amount, configuration)
    doubts = []
    if sheet.held:
        doubts.append(f"{sheet.node.id} is held back: {'; '.join(sheet.held)}.")
    if sheet.risks:
        named = "; ".join(f"{risk} by {', '.join(nodes)}" for risk, nodes in sheet.risks.items())
        doubts.append(f"It carries a risk: {named}.")
    if too_much := _more_than_left(sheet, much, configuration, measures):
        doubts.append(too_much)
    if at < sheet.made.time:
        doubts.append(
            f"{sheet.node.id} was made {_when(sheet.made.time, configuration)}; this is earlier. Is the day right?"
        )
    who = _plain(receiver)
    twice = [one for one in sheet.given if _plain(one.work.receiver) == who and abs(one.work.time - at) < _SAME_GIFT_MS]
    if twice:
        one = min(twice, key=lambda one: abs(one.work.time - at))
        said = amount_said(one.work) or "some"
        doubts.append(
            f"Entry {one.entry} already says that {one.work.receiver} got {said} of it, "
            f"{_when(one.work.time, configuration)}. Was it given once more?"
        )
    return " ".join(doubts)


def _more_than_left(sheet: LotSheet, much: Amount, configuration: Configuration, measures: Measures) -> str:
    """Return the doubt about a gift of more than is left; where not all gifts were weighed, of more than can be left."""
    rest, mass = sheet.rest, scales_of(configuration).weigh(CASTINGS, much)
    if mass is not None and rest.most_g is not None and mass.wet_g > rest.most_g:
        most = "" if rest.left_g is not None else "At most "
        return f"{most or 'Only '}{measures.mass(max(0, rest.most_g))} of it {'can be' if most else 'is'} left."
    unit, count = in_terms(much)
    if mass is not None or rest.counted is None or unit != rest.counted.unit or count <= rest.counted.left:
        return ""
    left, made = max(Fraction(0), rest.counted.left), rest.counted.made
    return f"Only {float(left):g} of {float(made):g} {unit_shown(unit)} that were made of it are left."


def doubts_of_test(name: str, asked_for: Sequence[str]) -> str:
    """Return the doubt about a test's name that is nearly one that the yard asks for, as a question; "" if there is none."""
    plain = {_plain(one): one for one in asked_for}
    word = _plain(name)
    near = difflib.get_close_matches(word, plain, 1, _ALIKE)
    if word in plain or not near:
        return ""
    return (
        f'The yard asks for "{plain[near[0]]}"; under another name this test does not count for it. Is it another test?'
    )


def understood(amount: str, configuration: Configuration) -> Amount:
    """Return an amount that somebody typed.

    Raises:
        MisuseError: It cannot be understood.
    """
    try:
        return parse_amount(amount, us=is_us(configuration.settings))
    except ValueError as fault:
        raise MisuseError(f"{fault}.") from None


def _plain(text: str) -> str:
    return " ".join(text.casefold().split())


def _when(time_ms: int, configuration: Configuration) -> str:
    return local_time(time_ms, configuration.settings)
