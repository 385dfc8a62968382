"""Treats several values of one probe at one instant, so that no certificate rests on the more favourable one.

Rules:
1. Under a rule with lower limits alone the coldest value counts (`coldest_of_each`), since the others were hotter.
2. Under a rule with an upper limit no value is the worst in every way. So none counts, and nothing is proven from the reading
   before that instant to the one after it.
3. The same where a value that failed its checks, or that cannot be measured, stands beside one that could be a temperature.
4. In a journal the value that came first stays and the others stand beside it; they are compared with it all the same. The
   engine follows a batch by the same rules (`engine.batches.clashing_values`).
"""

from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from monitor.app.cases.case_columns import Columns, coldest_of_each, unsettled
from monitor.app.cases.lineage import Telling
from monitor.certificate import CaseProbe
from monitor.model.flags import Flag
from monitor.model.readings import Reading
from monitor.model.settings import Calibration
from monitor.model.units import unit_sign
from monitor.proof.rules import Rule
from monitor.recordings import show_micro

SHOWN = 6
"""The most instants that are named."""


def without_clashes(probe: CaseProbe, times: Iterable[int], rule: Rule) -> CaseProbe:
    """Return a probe with nothing proven around some instants, if its rule has an upper limit.

    Args:
        probe: The probe.
        times: The instants at which values clash, UTC ms.
        rule: The rule.
    """
    found = sorted(set(times))
    if not found or not rule.has_upper_limit:
        return probe
    return replace(unsettled(probe, [(at, at + 1) for at in found]), unread=tuple(sorted({*probe.unread, *found})))


def told_of_clashes(count: int, mixed: int, shown: Sequence[str], rule: Rule) -> str:
    """Return page 1's sentence about clashing values, or "".

    Args:
        count: The number of instants with a clash.
        mixed: The number of those at which a value failed its checks or cannot be measured.
        shown: The first of the instants, in words.
        rule: The rule.
    """
    if not count:
        return ""
    instants = "1 instant" if count == 1 else f"{count:,} instants"
    none = "none of them counts, and nothing is proven from the reading before to the one after"
    if rule.has_upper_limit:
        meant = f"the rule has an upper limit, so {none}"
    elif mixed == count:
        meant = f"one of them failed its checks or is no temperature, so {none}"
    else:
        meant = "the coldest counts"
        if mixed:
            where = "1 of these instants" if mixed == 1 else f"{mixed:,} of these instants"
            meant += f" (at {where} one failed its checks or is no temperature, so {none})"
    more = "" if count <= len(shown) else "; and more"
    named = f": {'; '.join(shown)}{more}" if shown else ""
    return f"At {instants} a probe has several values; {meant}{named}."


class Clash(NamedTuple):
    """Several values of one probe at one instant (UTC ms), as sent (`58 °C`); the first is the one that was kept."""

    probe: str
    time: int
    values: tuple[str, ...]

    def told(self, telling: Telling) -> str:
        """Return it in words."""
        return f"{self.probe} on {telling.when(self.time)}, {' beside '.join(self.values)}"


def held_against(
    columns: Columns, further: Sequence[Reading], possible: Sequence[bool], calibrations: Sequence[Calibration] = ()
) -> tuple[Columns, list[Clash]]:
    """Return a probe's readings with the coldest value of each instant, and the clashes.

    Args:
        columns: Its readings in the journal, in order of time.
        further: The values that stand beside them.
        possible: Of each of these, whether the probe can measure it.
        calibrations: The probe's calibrations, which turn values into temperatures.
    """
    kept_at = set(columns.times.tolist())
    beside = [(one, fit) for one, fit in zip(further, possible, strict=True) if one.time in kept_at]
    if not beside:
        return columns, []
    probe = beside[0][0].probe
    names = tuple(dict.fromkeys([*columns.unit_names, *(one.unit for one, _ in beside)]))
    times = np.array([one.time for one, _ in beside], dtype=np.int64)
    flags = columns.quality[np.searchsorted(columns.times, times)]
    both = Columns(
        np.concatenate((columns.times, times)),
        np.concatenate((columns.micro, np.array([one.micro for one, _ in beside], dtype=np.int64))),
        np.concatenate((columns.units, np.array([names.index(one.unit) for one, _ in beside], dtype=np.int8))),
        names,
        # The flag of the kept reading also applies to the values that came beside it.
        np.concatenate((columns.quality, flags)),
    )
    fit = np.concatenate(
        (columns.quality <= int(Flag.NOT_EVALUATED), np.array([fit for _, fit in beside], dtype=np.bool_))
    )
    coldest, clashing = coldest_of_each(both, fit, calibrations)
    return coldest, [Clash(probe, at, _as_sent(both, at)) for at in dict.fromkeys(clashing)]


def _as_sent(columns: Columns, at: int) -> tuple[str, ...]:
    rows = np.flatnonzero(columns.times == at)
    sent = zip(columns.micro[rows].tolist(), columns.units[rows].tolist(), strict=True)
    return tuple(f"{show_micro(micro)} {unit_sign(columns.unit_names[unit])}" for micro, unit in sent)
