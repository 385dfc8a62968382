"""A person's judgement of the past: stretches of trouble and stretches that were fine, at one place.

Rules:
1. The head of a trouble's note, up to the first `:`, `(`, `,`, `;` or `.`, says what the trouble is *about*: the id or the
   plain name of an alarm, or a word of `WORDS` (`too hot`, `freezing`, `dead probe` ...). Only messages about it can have
   warned of it. If the head names nothing, any message of the place may have.
2. Troubles about the same that are less than a day apart are one: five hot afternoons in a row are one heat wave, for which one
   warning is enough, and which counts as one witness when settings are chosen.
3. A message can only be needless in *judged* time: the `fine` stretches if there are any, else all of the record; in both
   cases less the troubles themselves. Nobody judged the time elsewhere.
"""

import re
from collections.abc import Iterable
from dataclasses import dataclass, replace

from monitor.model.alarm_kinds import CATALOG, Alarm, Concern
from monitor.model.times import DAY_MS
from monitor.proof.intervals import Intervals, cut, difference, normal

WORDS: dict[str, Concern] = {
    "heat": Concern.HEAT,
    "hot": Concern.HEAT,
    "too hot": Concern.HEAT,
    "too warm": Concern.HEAT,
    "cold": Concern.COLD,
    "too cold": Concern.COLD,
    "frost": Concern.COLD,
    Alarm.FREEZING.value: Concern.COLD,
    "wet": Concern.WET,
    "too wet": Concern.WET,
    "flooded": Concern.WET,
    "dry": Concern.DRY,
    "too dry": Concern.DRY,
    "probe": Concern.PROBE,
    "dead probe": Concern.PROBE,
    "silent probe": Concern.PROBE,
}
"""Heads of notes that name a kind of trouble and so mean its alarms (our choice); another head may name one alarm."""

JOINED_MS = DAY_MS
"""Troubles about the same that are less than this apart are one (our choice)."""

_HEAD = re.compile(r"[:(,;.]")


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """One label: a stretch of time at a place that a person judged; times are UTC ms, `end` at or after `start`."""

    place: str
    start: int
    end: int
    trouble: bool
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Trouble:
    """One labelled trouble; `about` holds the alarms that can have warned of it (empty: any of the place)."""

    start: int
    end: int
    about: frozenset[str]
    note: str = ""

    def concerns(self, alarm: str) -> bool:
        """Return whether an alarm can have warned of this trouble."""
        return not self.about or alarm in self.about


@dataclass(frozen=True, slots=True, kw_only=True)
class Ground:
    """The truth about one place over a record, with which messages are compared.

    Attributes:
        place: The pile or bin.
        start, end: Span of the record, UTC ms.
        troubles: In the order of their starts.
        judged: The time in which a message would be needless.
        fine_said: Whether somebody labelled fine stretches; else all time without trouble counts as fine.
    """

    place: str
    start: int
    end: int
    troubles: tuple[Trouble, ...]
    judged: Intervals
    fine_said: bool


def about(note: str) -> frozenset[str]:
    """Return the alarms that a note's head names, or none."""
    head = _HEAD.split(note)[0].strip().lower()
    if head in WORDS:
        return frozenset(alarm for alarm, kind in CATALOG.items() if kind.concern is WORDS[head])
    return frozenset(alarm for alarm, kind in CATALOG.items() if head in (alarm, kind.name))


def ground_of(stretches: Iterable[Stretch], place: str, start: int, end: int) -> Ground:
    """Gather the truth about a place from labels.

    Args:
        stretches: Labels of any places; those beyond the record are left out.
        place: The pile or bin.
        start: Beginning of the record, UTC ms.
        end: End of the record, UTC ms.

    Returns:
        Troubles and judged time (rules 2 and 3).
    """
    here = [one for one in stretches if one.place == place and one.start <= end and one.end >= start]
    troubles = _joined([one for one in here if one.trouble])
    fine = normal((one.start, one.end) for one in here if not one.trouble)
    bad = normal((one.start, one.end) for one in troubles)
    whole = cut(fine, start, end) if fine else ((start, end),)
    return Ground(
        place=place, start=start, end=end, troubles=troubles, judged=difference(whole, bad), fine_said=bool(fine)
    )


def _joined(stretches: Iterable[Stretch]) -> tuple[Trouble, ...]:
    """Return the troubles; those about the same that are less than a day apart are joined under the first one's note."""
    found: list[Trouble] = []
    newest: dict[frozenset[str], int] = {}
    for one in sorted(stretches, key=lambda one: (one.start, one.end, one.note)):
        kind = about(one.note)
        before = newest.get(kind)
        if before is not None and one.start - found[before].end < JOINED_MS:
            found[before] = replace(found[before], end=max(found[before].end, one.end))
        else:
            newest[kind] = len(found)
            found.append(Trouble(start=one.start, end=one.end, about=kind, note=one.note))
    return tuple(found)
