"""Treats several values of one probe at one instant, so that no certificate rests on the more favourable one.

Rules:
1. Under a rule with lower limits alone the coldest value counts (`coldest_of_each`), since the others were hotter.
2. Under a rule with an upper limit no value is the worst in every way. So none counts, and nothing is proven from the reading
   before that instant to the one after it.
3. A journal keeps the value that came first and sets the others aside; they are compared with it all the same.
"""

from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from monitor.app.cases.case_columns import Columns, coldest_of_each, unsettled
from monitor.app.cases.lineage import Telling
from monitor.certificate import CaseProbe
from monitor.model.readings import Reading
from monitor.model.settings import Calibration
from monitor.proof.rules import Rule
from monitor.recordings import show_micro

SHOWN = 6
"""The most instants that are named."""


def has_upper_limit(rule: Rule) -> bool:
    """Return whether a rule has an upper limit."""
    return any(one.high_milli_c is not None for one in rule.all_limits())


def without_clashes(probe: CaseProbe, times: Iterable[int], rule: Rule) -> CaseProbe:
    """Return a probe with nothing proven around some instants, if its rule has an upper limit.

    Args:
        probe: The probe.
        times: The instants at which values clash, UTC ms.
        rule: The rule.
    """
    found = sorted(set(times))
    if not found or not has_upper_limit(rule):
        return probe
    return replace(unsettled(probe, [(at, at + 1) for at in found]), unread=tuple(sorted({*probe.unread, *found})))


def told_of_clashes(count: int, shown: Sequence[str], rule: Rule) -> str:
    """Return page 1's sentence about clashing values, or "".

    Args:
        count: The number of instants with a clash.
        shown: The first of those instants, in words.
        rule: The rule.
    """
    if not count:
        return ""
    instants = "1 instant" if count == 1 else f"{count:,} instants"
    if has_upper_limit(rule):
        meant = (
            "the rule has an upper limit, so none of them counts, and nothing is proven from the reading before to the one "
            "after"
        )
    else:
        meant = "the coldest counts"
    more = "" if count <= len(shown) else "; and more"
    named = f": {'; '.join(shown)}{more}" if shown else ""
    return f"At {instants} a probe has several values; {meant}{named}."


class Clash(NamedTuple):
    """Several values of one probe at one instant (UTC ms), as sent (`58 Cel`); the first is the one that was kept."""

    probe: str
    time: int
    values: tuple[str, ...]

    def told(self, telling: Telling) -> str:
        """Return it in words."""
        return f"{self.probe} on {telling.when(self.time)}, {' beside '.join(self.values)}"


def held_against(
    columns: Columns, values: Iterable[Reading], probe: str, calibrations: Sequence[Calibration] = ()
) -> tuple[Columns, list[Clash]]:
    """Return a probe's readings with the coldest value of each instant, and the clashes.

    Args:
        columns: Its readings in the journal, in order of time.
        values: Readings of any probe that the journal set aside because another value stood at their instant.
        probe: The probe.
        calibrations: Its calibrations, which turn values into temperatures.
    """
    kept_at = set(columns.times.tolist())
    beside = [one for one in values if one.probe == probe and one.time in kept_at]
    if not beside:
        return columns, []
    names = tuple(dict.fromkeys([*columns.unit_names, *(one.unit for one in beside)]))
    times = np.array([one.time for one in beside], dtype=np.int64)
    both = Columns(
        np.concatenate((columns.times, times)),
        np.concatenate((columns.micro, np.array([one.micro for one in beside], dtype=np.int64))),
        np.concatenate((columns.units, np.array([names.index(one.unit) for one in beside], dtype=np.int8))),
        names,
        # The flag of the kept reading also applies to the values that came beside it.
        np.concatenate((columns.quality, columns.quality[np.searchsorted(columns.times, times)])),
    )
    coldest, clashing = coldest_of_each(both, calibrations)
    return coldest, [Clash(probe, at, _as_sent(both, at)) for at in dict.fromkeys(clashing)]


def _as_sent(columns: Columns, at: int) -> tuple[str, ...]:
    rows = np.flatnonzero(columns.times == at)
    sent = zip(columns.micro[rows].tolist(), columns.units[rows].tolist(), strict=True)
    return tuple(f"{show_micro(micro)} {columns.unit_names[unit]}" for micro, unit in sent)
