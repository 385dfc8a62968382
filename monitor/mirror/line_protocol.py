"""Readings and effects as lines of the InfluxDB line protocol; the names are ours and stand in docs/mirror.md.

Rules: numbers have at most 3 decimals, written from integers, so that reading them back gives exactly equal values; words are
numbers, because many servers keep no texts; one point for one (measurement, tags, time), so that sending it again
overwrites it: values that may change later are fields, never tags; times are milliseconds.

Source: InfluxDB line protocol (measurement, tag set, field set, timestamp; escaping of commas, spaces, equals signs).
"""

import re
from collections.abc import Iterable
from enum import StrEnum

from monitor.mirror.source import MirroredReading
from monitor.model.effects import Effect, EffectKind
from monitor.model.units import divide_half_even
from monitor.model.words import AlarmState, Dampness, Phase, RuleState, Thermal

READING = "heaptender_reading"
PHASE = "heaptender_phase"
CONDITION = "heaptender_condition"
ALARM = "heaptender_alarm"
RULE = "heaptender_rule"

_FIELD = re.compile(r"(?!code$|since$)[A-Za-z][A-Za-z0-9_]*", re.ASCII)
_ESCAPED = str.maketrans({",": "\\,", " ": "\\ ", "=": "\\=", "\n": "\\ ", "\r": "\\ ", "\t": "\\ "})


def codes(words: type[StrEnum]) -> dict[str, int]:
    """Return the number of each word: its index in the list of the words, from 0."""
    return {word.value: number for number, word in enumerate(words)}


_CODES: dict[tuple[EffectKind, str], dict[str, int]] = {
    (EffectKind.PHASE, "phase"): codes(Phase),
    (EffectKind.CONDITION, "thermal"): codes(Thermal),
    (EffectKind.CONDITION, "moisture"): codes(Dampness),
}
_ALARM_CODES = codes(AlarmState)
_RULE_CODES = codes(RuleState)


def decimal(milli: int) -> str:
    """Return thousandths as a decimal number with three decimals."""
    sign = "-" if milli < 0 else ""
    return f"{sign}{abs(milli) // 1000}.{abs(milli) % 1000:03d}"


def _tags(**tags: str) -> str:
    # Strip backslashes at a value's end, which would escape the separator behind it.
    shown = {key: value.translate(_ESCAPED).rstrip("\\") for key, value in tags.items()}
    return "".join(f",{key}={value}" for key, value in sorted(shown.items()) if value)


def reading_line(reading: MirroredReading) -> str:
    """Return the point of a reading."""
    fields = f"raw={decimal(divide_half_even(reading.micro, 1000))}"
    if reading.milli is not None:
        fields += f",value={decimal(reading.milli)}"
    if reading.flag is not None:
        fields += f",flag={reading.flag}i"
    tags = _tags(probe=reading.probe, quantity=reading.quantity, unit=reading.unit)
    return f"{READING}{tags} {fields} {reading.time}"


def _since(effect: Effect) -> str:
    """Return when an effect became true, as Unix seconds."""
    return f"since={decimal(effect.draft.since)}"


def _rule_fields(effect: Effect) -> str:
    """Return the plain numbers of a rule's progress, by their own names."""
    numbers = {
        key: value
        for key, value in effect.draft.values.items()
        if isinstance(value, int | float) and not isinstance(value, bool) and _FIELD.fullmatch(key)
    }
    return "".join(f",{key}={decimal(round(value * 1000))}" for key, value in sorted(numbers.items()))


def tagged(line: str, yard: str) -> str:
    """Return a point with the tag `yard`, by which yards that share a server are told apart; as it is without a name."""
    head = re.match(r"[a-z_]+", line)  # the measurements' names are ours
    return line if head is None or not yard else f"{head[0]}{_tags(yard=yard)}{line[head.end() :]}"


def effect_line(effect: Effect) -> str | None:
    """Return the point of an effect, or None if it is not mirrored (a notice: it names people)."""
    draft = effect.draft
    batch = draft.values.get("batch")
    batch_tag = batch if isinstance(batch, str) else ""
    word = draft.after or ""
    if draft.kind is EffectKind.ALARM:
        code = _ALARM_CODES.get(word)
        head = ALARM + _tags(place=draft.place, alarm=draft.axis, probe=draft.probe)
    elif draft.kind is EffectKind.RULE:
        code = _RULE_CODES.get(word)
        head = RULE + _tags(place=draft.place, rule=draft.axis, batch=batch_tag)
    elif draft.kind is EffectKind.PHASE:
        code = _CODES[EffectKind.PHASE, "phase"].get(word)
        head = PHASE + _tags(place=draft.place, batch=batch_tag)
    else:
        code = _CODES.get((draft.kind, draft.axis), {}).get(word)
        head = CONDITION + _tags(place=draft.place, axis=draft.axis)
    if code is None:
        return None
    more = _rule_fields(effect) if draft.kind is EffectKind.RULE else ""
    return f"{head} code={code}i,{_since(effect)}{more} {effect.at}"


def effect_lines(effects: Iterable[Effect]) -> list[str]:
    """Return the points of effects in order of their ids; if two give the same point the later one stays."""
    points: dict[tuple[str, str], str] = {}
    for effect in effects:
        line = effect_line(effect)
        if line is not None:
            head, _, rest = line.partition(" code=")
            points[head, rest.rpartition(" ")[2]] = line
    return list(points.values())
