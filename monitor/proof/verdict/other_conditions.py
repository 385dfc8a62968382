"""A rule's conditions beside time and temperature: measured, declared by name, or not examined.

Rules this module keeps:

1. A condition is declared by a named person or not examined; nothing here can measure it.
2. Monitoring duties are measured where everything that they state can be checked: that each probe was read often
   enough, that there were enough probes for the pile's length or volume, and that they lay at the right depth. One that
   is checked and failed has failed, whatever else is unknown. What nobody stated leaves it not examined.
3. Where a rule states probes per length and per volume it leaves the choice, so enough by either is enough.
4. A probe at a wrong depth does not count towards the number. One that was read too seldom fails the duty.
5. People do not read to the minute: between two readings a quarter more than the stated time may pass (common
   practice, no published source).
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from itertools import pairwise

from monitor.model.times import show_duration
from monitor.proof.rules import Condition, Duties, Rule


class ExaminedStatus(StrEnum):
    """The way in which a condition was examined; stored and shown, so never renamed."""

    MEASURED = "measured"
    DECLARED = "declared"
    NOT_EXAMINED = "not examined"


@dataclass(frozen=True, slots=True, kw_only=True)
class Evidence:
    """Facts about a batch beside its temperatures.

    Attributes:
        declared: Who declared a condition, by its key.
        length_milli_m, volume_milli_m3: Size of the pile, thousandths of a metre and of a cubic metre, or None.
        depths: Depth of each core probe below the surface, millimetres, or None where it is not stated.
        times: When each core probe was read, UTC ms, in order (arrays or lists).
        start, end: Period that is examined, UTC ms; else from the first reading of all to the last.
    """

    declared: Mapping[str, str] = field(default_factory=dict)
    length_milli_m: int | None = None
    volume_milli_m3: int | None = None
    depths: Mapping[str, int | None] = field(default_factory=dict)
    times: Mapping[str, Sequence[int]] = field(default_factory=dict)
    start: int | None = None
    end: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Examined:
    """The result of one condition.

    Attributes:
        key, text: The condition's.
        status: How it was looked at.
        ok: Whether it is kept, where it was measured, else None.
        by: Who declared it, or "".
        words: What was found, for people.
    """

    key: str
    text: str
    status: ExaminedStatus
    ok: bool | None
    by: str
    words: str


@dataclass(frozen=True, slots=True)
class _Check:
    """One thing that a duty states: kept, failed, or (None) not known, and its words."""

    ok: bool | None
    words: str


def examine(rule: Rule, evidence: Evidence) -> tuple[Examined, ...]:
    """Return the result of each condition of a rule, in the rule's order."""
    return tuple(
        _measured(one, evidence) if isinstance(one, Duties) else _declared(one, evidence) for one in rule.conditions
    )


def _declared(one: Condition | Duties, evidence: Evidence, words: str = "") -> Examined:
    by = evidence.declared.get(one.key, "")
    status = ExaminedStatus.DECLARED if by else ExaminedStatus.NOT_EXAMINED
    said = f"declared by {by}" if by else "nobody declared it"
    words = f"{words}; {said}" if words else said
    return Examined(key=one.key, text=one.text, status=status, ok=None, by=by, words=words)


def _measured(duty: Duties, evidence: Evidence) -> Examined:
    deep, wrong = _depth(duty, evidence)
    checks = [one for one in (_often(duty, evidence), deep, _enough(duty, evidence, wrong)) if one is not None]
    words = "; ".join(one.words for one in checks)
    known = [one.ok for one in checks if one.ok is not None]
    if not all(known):
        ok = False
    elif checks and len(known) == len(checks):
        ok = True
    else:
        return _declared(duty, evidence, words)
    by = evidence.declared.get(duty.key, "")
    return Examined(key=duty.key, text=duty.text, status=ExaminedStatus.MEASURED, ok=ok, by=by, words=words)


def _often(duty: Duties, evidence: Evidence) -> _Check | None:
    if duty.every_ms is None:
        return None
    heard = {probe: times for probe, times in evidence.times.items() if len(times)}
    if not heard:
        return _Check(None, "no times of readings are known")
    start = min(int(times[0]) for times in heard.values()) if evidence.start is None else evidence.start
    end = max(int(times[-1]) for times in heard.values()) if evidence.end is None else evidence.end
    slowest = {probe: _longest_wait(times, start, end) for probe, times in heard.items()}
    probe = max(slowest, key=lambda one: slowest[one])
    silent = sorted(set(evidence.times) - set(heard))
    wanted = f"wanted every {show_duration(duty.every_ms)}"
    if silent:
        return _Check(False, f"probe {silent[0]} was never read, {wanted}")
    said = f"probe {probe} went unread for {show_duration(slowest[probe])} at most, {wanted}"
    return _Check(slowest[probe] * 4 <= duty.every_ms * 5, said)


def _longest_wait(times: Sequence[int], start: int, end: int) -> int:
    """Return the longest time without a reading from start to end, ms."""
    # Plain differences of neighbours: a million readings are gone through once.
    within = [start, *(at for at in _plain(times) if start < at < end), end]
    return max(after - before for before, after in pairwise(within))


def _plain(times: Sequence[int]) -> Sequence[int]:
    listed: Sequence[int] = times.tolist() if hasattr(times, "tolist") else times
    return listed


def _depth(duty: Duties, evidence: Evidence) -> tuple[_Check | None, set[str]]:
    """Return the outcome for the depths, and the probes that lie at a wrong one."""
    low, high = duty.depth_min_milli_m, duty.depth_max_milli_m
    if low is None and high is None:
        return None, set()
    wanted = f"wanted {low if low is not None else 0} mm" + (f" to {high} mm" if high is not None else " or more")
    known = {probe: evidence.depths.get(probe) for probe in evidence.times}
    wrong = {
        probe
        for probe, depth in known.items()
        if depth is not None and ((low is not None and depth < low) or (high is not None and depth > high))
    }
    unknown = [probe for probe, depth in known.items() if depth is None]
    said = ", ".join(f"{probe} {depth} mm" for probe, depth in sorted(known.items()) if depth is not None)
    if unknown or not known:
        return _Check(None, f"depth of {', '.join(sorted(unknown)) or 'the probes'} is not stated, {wanted}"), wrong
    # A probe at a wrong depth is not counted; as long as there are enough others it does no harm.
    return _Check(len(wrong) < len(known), f"depths {said}, {wanted}"), wrong


def _enough(duty: Duties, evidence: Evidence, wrong: set[str]) -> _Check | None:
    asked = [
        (size, each)
        for size, each in (
            (evidence.length_milli_m, duty.per_milli_m),
            (evidence.volume_milli_m3, duty.per_milli_m3),
        )
        if each is not None
    ]
    if not asked:
        return None
    wanted = [-(-size // each) for size, each in asked if size is not None]
    if not wanted:
        return _Check(None, "neither length nor volume of the pile is stated")
    if not evidence.times:
        return _Check(None, "no probes are known")
    there = len(set(evidence.times) - wrong)
    return _Check(
        there >= min(wanted),
        f"{there} {'probe counts' if there == 1 else 'probes count'}, {min(wanted)} wanted for this size",
    )
