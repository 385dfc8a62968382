"""Writes down what is done with lots: made, tested, given out; each is an entry of the log like any other."""

import difflib
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from monitor.app.console.measures import Measures
from monitor.app.console.time_words import parse_when
from monitor.app.entries.entries import work_entry
from monitor.app.entries.entry_log import entry_log, number_of
from monitor.app.entries.foretelling import changes_ahead
from monitor.app.loop.asking import ask
from monitor.app.stock.lot_sheets import LotSheet
from monitor.app.stock.yard_material import scales_of
from monitor.app.yard.effect_words import local_time
from monitor.configuration import Configuration
from monitor.journal import open_reader
from monitor.material import CASTINGS, MaterialRecord, Node, NodeKind, Tally
from monitor.model.amounts import parse_amount
from monitor.model.errors import MisuseError
from monitor.model.settings import YARD
from monitor.model.times import DAY_MS
from monitor.model.work import WorkKind
from monitor.model.work_entry import is_us
from monitor.model.work_kinds import FRACTIONS, declared
from monitor.model.work_words import amount_said

_ALIKE = 0.7
"""Names of tests at least this alike (the ratio of difflib, from 0 to 1) may be a slip (our choice)."""


@dataclass(frozen=True, slots=True)
class WrittenDown:
    """The outcome: the entry's number, words and changes, or the question that stands before it."""

    number: int | None = None
    words: str = ""
    changes: str = ""
    question: str = ""


def write_down(configuration: Configuration, kind: WorkKind, given: Mapping[str, Any]) -> WrittenDown:
    """Write an entry of a lot down.

    Args:
        configuration: The configuration.
        kind: The kind of entry.
        given: Its fields by name, beside `at` and `again`.

    Returns:
        Its number, words and changes; or a question, and nothing is written down.

    Raises:
        MisuseError: A field is wrong, or the time lies ahead.
    """
    now, settings = time.time_ns() // 1_000_000, configuration.settings
    at = now if given.get("at") is None else parse_when(given["at"], now, settings.site.time_zone, "--at")
    if at > now:
        raise MisuseError("--at lies in the future; only what was done can be written down.")
    fields = {name: value for name, value in given.items() if name not in ("at", "again") and value}
    entry = work_entry(settings, declared(kind).word, YARD, fields, at)
    changes = changes_ahead(configuration, entry, now)
    taken = ask(configuration, entry.kind, entry.payload, again=bool(given.get("again")))
    if taken.question or taken.at is None:
        return WrittenDown(question=taken.question or "That was written down already.")
    with open_reader(configuration.data) as store:
        number = number_of(entry_log(store, [*settings.piles, *settings.bins]), taken.at)
    return WrittenDown(number, entry.words, changes)


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
    try:
        much = parse_amount(amount, us=is_us(configuration.settings))
    except ValueError as fault:
        raise MisuseError(f"{fault}.") from None
    doubts = []
    if sheet.held:
        doubts.append(f"{sheet.node.id} is held back: {'; '.join(sheet.held)}.")
    if sheet.risks:
        named = "; ".join(f"{risk} by {', '.join(nodes)}" for risk, nodes in sheet.risks.items())
        doubts.append(f"It carries a risk: {named}.")
    mass = scales_of(configuration).weigh(CASTINGS, much)
    if mass is not None and sheet.left_g is not None and mass.wet_g > sheet.left_g:
        doubts.append(f"Only {measures.mass(max(0, sheet.left_g))} of it is left.")
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


_SAME_GIFT_MS = DAY_MS
"""Of two gifts of a lot to the same person less than this apart, one may be written down twice (our choice)."""


def _plain(text: str) -> str:
    return " ".join(text.casefold().split())


def _when(time_ms: int, configuration: Configuration) -> str:
    return local_time(time_ms, configuration.settings)


def doubts_of_making(record: MaterialRecord, sources: Sequence[Node]) -> str:
    """Return the doubt about making a lot of all that is left of sources, as a question; "" if there is none.

    Args:
        record: The graph and the log.
        sources: What the lot would be made of.
    """
    names = {one.id.casefold() for one in sources}
    for one in sources:
        again = record.graph.named(f"{one.id}/{FRACTIONS[0]}")
        if again is not None:
            once_more = " again" if one.kind is NodeKind.FRACTION else ""
            return f"{one.id} was screened{once_more}, and what passed then is {again.id}. Is a lot of the rest meant?"
    for work in record.entries.values():
        taken = names & {one.strip().casefold() for one in work.what.split(",")}
        if work.kind is WorkKind.LOT and not work.amount and taken:
            return f"{work.lot} has all that was left of {', '.join(sorted(taken))} already. Is this another lot of it?"
    for one in sources:
        into, out = record.graph.into.get(one, ()), record.graph.out_of.get(one, ())
        if out and not Tally.wet(into).unknown and record.graph.wet_left(one) <= 0:
            return f"By the record nothing is left of {one.id}. If some is, say how much with --amount. Is it the right one?"
    return ""


def doubts_of_test(name: str, asked_for: Sequence[str]) -> str:
    """Return the doubt about a test's name that is nearly one that the yard asks for, as a question; "" if there is none."""
    plain = {" ".join(one.casefold().split()): one for one in asked_for}
    word = " ".join(name.casefold().split())
    near = difflib.get_close_matches(word, plain, 1, _ALIKE)
    if word in plain or not near:
        return ""
    return (
        f'The yard asks for "{plain[near[0]]}"; under another name this test does not count for it. Is it another test?'
    )
