"""Puts the findings of tuning into plain words: the record, each set worth a look, and the advice.

Rules: a row is short enough to be said in one breath, its figures can be checked, and today's settings stand beside it.
Needless messages are counted by the week or by the month, the same for all rows.
"""

import re
from collections.abc import Sequence
from datetime import datetime
from zoneinfo import ZoneInfo

from monitor.app.console.nouns import plural
from monitor.configuration import Kind as ValueKind
from monitor.configuration import Range
from monitor.model.alarm_kinds import alarm_name
from monitor.model.settings import Settings
from monitor.model.times import DAY_MS, show_duration
from monitor.model.units import show_difference, show_percent, show_temperature
from monitor.tuning import (
    LEAST_TROUBLES,
    WEEK_MS,
    Findings,
    Judged,
    Kind,
    Row,
    Score,
    Set,
    Why,
    beats,
    cost,
    figures,
    within,
)

MONTH_MS = round(365.2425 / 12 * DAY_MS)
SAME_MS = 60_000
"""Times less than this apart count as the same."""
_OFTEN = 2.0
"""From this many needless messages a week on, they are counted by the week."""


def set_words(ranges: Sequence[Range], values: Set, settings: Settings) -> str:
    """Return a set in words: `overheating 82.5 °F for 20 min, too wet 84 %`.

    Args:
        ranges: The thresholds that were varied.
        values: One value for each, in the threshold's own unit.
        settings: The site's units.
    """
    return ", ".join(f"{name} {value}" for name, value in set_parts(ranges, values, settings))


def set_parts(ranges: Sequence[Range], values: Set, settings: Settings) -> list[tuple[str, str]]:
    """Return a set as names and values: `("overheating", "82.5 °F for 20 min")`.

    Args:
        ranges: The thresholds that were varied.
        values: One value for each, in the threshold's own unit.
        settings: The site's units.
    """
    said = {one.threshold.key: value_words(one, value, settings) for one, value in zip(ranges, values, strict=True)}
    parts: list[tuple[str, str]] = []
    for key, value in said.items():
        base = key.removesuffix("_dwell")
        if base != key and base in said:
            continue
        dwell = said.get(f"{key}_dwell")
        lasting = "" if dwell is None else " at once" if dwell == "0 s" else f" for {dwell}"
        parts.append((key.replace("_", " "), f"{value}{lasting}"))
    return parts


def value_words(one: Range, value: int, settings: Settings) -> str:
    """Return one value with its unit as the site shows it.

    Args:
        one: The threshold's range.
        value: The value, in the threshold's own unit.
        settings: The site's units.
    """
    unit = settings.site.temperature_unit
    kind = one.threshold.kind
    if kind is ValueKind.TEMPERATURE:
        return show_temperature(value, unit)
    if kind is ValueKind.DIFFERENCE:
        return show_difference(value, unit)
    if kind is ValueKind.PERCENT:
        return show_percent(value)
    return show_duration(value) if kind is ValueKind.DURATION else one.text(value)


def per_of(findings: Findings) -> tuple[str, int]:
    """Return the span by which needless messages are counted, as a word and in ms."""
    return ("week", WEEK_MS) if findings.now.score.needless_in(WEEK_MS) >= _OFTEN else ("month", MONTH_MS)


def count_words(number: float) -> str:
    """Return a rate for people: whole from ten on, else with at most one decimal."""
    if number >= 10:
        return str(round(number))
    text = f"{number:.1f}".removesuffix(".0")
    return "under 0.1" if text == "0" and number > 0 else text


def needless_words(row: Row, per: tuple[str, int]) -> str:
    """Return the rate of needless messages in words: `1 needless message a month (0 to 2)`."""
    score = row.score
    if not score.judged_ms:
        return "no fine time to judge needless messages by"
    if not score.needless and (row.needless_spread is None or row.needless_spread[1] == 0):
        return "no needless message"
    rate = count_words(score.needless_in(per[1]))
    text = f"{rate} needless {'message' if rate == '1' else 'messages'} a {per[0]}"
    if row.needless_spread is not None and row.needless_spread[0] != row.needless_spread[1]:
        low, high = (count_words(one * per[1] / WEEK_MS) for one in row.needless_spread)
        text += f" (likely {low} to {high})" if low != high else ""
    return text


def warning_words(score: Score) -> str:
    """Return the warning times: `4 h 10 min before, at worst 20 min after it began`."""
    if score.median_ms is None or score.worst_ms is None:
        return ""
    worst = f", at worst {_ahead(score.worst_ms)}" if score.worst_ms != score.median_ms else ""
    return f", {_ahead(score.median_ms)}{worst}"


def _ahead(warning_ms: int) -> str:
    span = show_duration(abs(warning_ms))
    if abs(warning_ms) < SAME_MS:
        return "as it began"
    return f"{span} before" if warning_ms > 0 else f"{span} after its start"


def row_words(row: Row, findings: Findings, ranges: Sequence[Range], settings: Settings, worth: int) -> str:
    """Return one row of the answer.

    Args:
        row: The row.
        findings: The findings that it belongs to.
        ranges: The thresholds that were varied.
        settings: The site's units.
        worth: How many needless messages weigh as much as one missed trouble.
    """
    head = set_words(ranges, row.values, settings)
    head = f"today's, {head}" if row.today else head
    if findings.kind is Kind.WHAT_IF:
        share = 100 * row.score.alarm_ms / max(1, row.score.span_ms)
        alarms = ", ".join(f"{alarm_name(alarm)} {count}" for alarm, count in row.judged.by_alarm.items())
        counted = plural(row.score.messages, "message")
        alike = f"; {plural(row.alike, 'more setting')} the very same" if row.alike else ""
        counted += f" ({alarms})" if alarms else ""
        return f"{head}: {counted}{_moved(row)}, in alarm {count_words(share)} % of the time{_hints(row)}{alike}"
    caught = f"caught {row.score.caught} of {row.score.troubles}{warning_words(row.score)}"
    unjudged = f", {row.score.unjudged} more where nothing is labelled" if row.score.unjudged else ""
    now = findings.now.score
    worse = cost(now, worth) < cost(row.score, worth) or beats(figures(now), figures(row.score))
    beaten = "; there today's did better" if worse else ""
    return f"{head}: {caught}, {needless_words(row, per_of(findings))}{unjudged}{_hints(row)}{beaten}"


def row_cells(row: Row, findings: Findings, worth: int) -> list[tuple[str, str]]:
    """Return the cells of a row beside its settings as (head of the column, words); the same heads for every row.

    Args:
        row: The row.
        findings: The findings that it belongs to.
        worth: How many needless messages weigh as much as one missed trouble.
    """
    score = row.score
    if findings.kind is Kind.WHAT_IF:
        share = 100 * score.alarm_ms / max(1, score.span_ms)
        alike = [f"{plural(row.alike, 'more setting')} the very same"] if row.alike else []
        return [
            ("Messages", str(score.messages)),
            ("In alarm", f"{count_words(share)} % of the time"),
            ("Beside today's", _moved(row).removeprefix(", beside today's ")),
            ("Besides", "; ".join([*(["today's"] if row.today else []), *filter(None, [_hints(row)[2:]]), *alike])),
        ]
    now, per = findings.now.score, per_of(findings)
    worse = cost(now, worth) < cost(score, worth) or beats(figures(now), figures(score))
    besides = [
        "today's" if row.today else "",
        "suggested" if row.suggested else "",
        f"{score.unjudged} more where nothing is labelled" if score.unjudged else "",
        _hints(row)[2:],
        "there today's did better" if worse else "",
    ]
    return [
        ("Caught", f"{score.caught} of {score.troubles}"),
        ("Warning", warning_words(score)[2:].replace(", at worst", "; at worst") or "none in time"),
        (f"Needless a {per[0]}", _rate_words(row, per)),
        ("Besides", "; ".join(filter(None, besides))),
    ]


def _rate_words(row: Row, per: tuple[str, int]) -> str:
    """Return the rate of needless messages for a column whose head names them: `1 (likely 0 to 2)`, `none`."""
    words = needless_words(row, per)
    return "none" if words == "no needless message" else re.sub(r" needless messages? a \w+", "", words)


def _moved(row: Row) -> str:
    """Return how today's messages change: `, beside today's 2 new, 5 gone, 3 later (by 30 min to 1 h)`."""
    if row.moves is None or row.today:
        return ""
    parts = [f"{count} {word}" for count, word in ((row.moves.new, "new"), (row.moves.gone, "gone")) if count]
    for way, word in ((-1, "earlier"), (1, "later")):
        spans = sorted(way * shift for shift in row.moves.shifts if way * shift >= SAME_MS)
        if spans:
            least, most = show_duration(spans[0]), show_duration(spans[-1])
            parts.append(f"{len(spans)} {word} (by {least if least == most else f'{least} to {most}'})")
    return f", beside today's {', '.join(parts)}" if parts else ""


def _hints(row: Row) -> str:
    kept, parts = row.kept, []
    if kept is None:
        return ""
    if kept.worthy:
        parts.append(f"{kept.worthy_told} of the {kept.worthy} that you acted on")
    if kept.put_off:
        parts.append(f"{kept.put_off_told} of the {kept.put_off} that you put off")
    return f"; it would send {' and '.join(parts)}" if parts else ""


def record_words(
    findings: Findings, ranges: Sequence[Range], settings: Settings, left_out: int = 0, why: str = ""
) -> str:
    """Return which settings were tried on which record.

    Args:
        findings: The findings.
        ranges: The thresholds that were varied.
        settings: The site's names and time zone.
        left_out: How many sets were left out because they make no sense.
        why: What is wrong with one of those, or "".
    """
    ground, zone = findings.ground, ZoneInfo(settings.site.time_zone)
    keys = join_words([one.threshold.key for one in ranges])
    tried = plural(findings.tried, "other setting")
    span = ground.end - ground.start
    left = f", {left_out} left out ({why.partition(';')[0]})" if left_out else ""
    lasting = plural(len(findings.weeks), "week") if span >= 2 * WEEK_MS else show_duration(span)
    return (
        f"{settings.place_name(ground.place)}, {_day(ground.start, zone)} to {_day(ground.end, zone)} "
        f"({lasting}): {tried} of {keys} tried{left}."
    )


def basis_words(findings: Findings) -> str:
    """Return the basis of the figures, or why there are only counts."""
    ground, parts = findings.ground, findings.parts
    fine = (
        "Messages count as needless in the stretches labelled fine."
        if ground.fine_said
        else "Nothing is labelled fine, so every message outside the troubles counts as needless."
    )
    if parts is not None:
        now = findings.now
        assert now.choosing is not None
        return (
            f"Chosen on {plural(len(parts.choosing), 'week')} with {plural(now.choosing.troubles, 'labelled trouble')}; "
            f"the figures below are from the other {plural(len(parts.reporting), 'week')}, with {now.score.troubles}. {fine}"
        )
    counted = "These are counts of what would have been sent, and no advice: "
    if findings.why is Why.NO_LABELS:
        return f"{counted}no trouble is labelled in this record. {_asks()}"
    if findings.why is Why.FEW:
        count = plural(len(ground.troubles), "trouble is", "troubles are")
        return f"{counted}only {count} labelled, and any settings fit so few by luck. {_asks()}"
    return (
        f"{counted}the labelled troubles lie so close together that they cannot be parted into some to choose on and some to "
        "check on. A longer record would do."
    )


def _asks() -> str:
    enough = f"With {LEAST_TROUBLES} or more, settings can be chosen on some and checked on the others"
    return f"{enough} (`heaptender label --help`)."


def better(findings: Findings, worth: int) -> bool:
    """Return whether the suggested set beat today's on the weeks that it was not chosen on."""
    best, now = findings.best, findings.now
    if best is None or best.today:
        return False
    return cost(best.score, worth) < cost(now.score, worth)


def verdict_words(findings: Findings, worth: int) -> str:
    """Return the advice, in a sentence or two."""
    best, now = findings.best, findings.now
    if findings.kind is Kind.WHAT_IF:
        return (
            "Nothing was chosen." if len(findings.rows) > 1 else "Nothing that was tried would have sent anything else."
        )
    if best is None or best.today:
        return "Of all that was tried nothing beats today's settings: leave them."
    if not better(findings, worth):
        checked = "Row 1 was best on the weeks to choose on, but no better than today's on the others"
        return f"{checked}: leave the settings as they are."
    caught = best.score.caught - now.score.caught
    per, span = per_of(findings)
    fewer = (now.score.needless - best.score.needless) * span / max(1, best.score.judged_ms)
    parts = []
    if caught:
        parts.append(f"caught {plural(abs(caught), 'more trouble' if caught > 0 else 'fewer trouble')}")
    if abs(fewer) >= 0.05:
        sent = "fewer" if fewer > 0 else "more"
        parts.append(f"sent {count_words(abs(fewer))} {sent} needless messages a {per}")
    parts += [] if parts else ["warned earlier"]
    said = f"Take row 1: on weeks it was not chosen on it {' and '.join(parts)} than today's."
    mute = [(alarm, count) for alarm, count in now.judged.by_alarm.items() if not best.judged.by_alarm.get(alarm)]
    if mute:
        told = join_words([f"{alarm_name(alarm)} ({plural(count, 'message')} by today's)" for alarm, count in mute])
        said += f" But on the whole record it never tells of {told}: look whether you can do without."
    if now.score.troubles < LEAST_TROUBLES:
        few = plural(now.score.troubles, "trouble")
        said += f" {few} to check on are few: try more --sets or another --seed before you trust it."
    return said


def trouble_words(findings: Findings, settings: Settings) -> list[str]:
    """Return, for each trouble in the weeks to check on, when today's and the suggested settings sent a message about it."""
    best, now, parts = findings.best, findings.now, findings.parts
    if best is None or best.today or parts is None:
        return []
    zone, ground = ZoneInfo(settings.site.time_zone), findings.ground
    lines = []
    for number, trouble in enumerate(ground.troubles):
        start = max(trouble.start, ground.start)
        if within(parts.reporting, start):
            moment = datetime.fromtimestamp(start / 1000, zone)
            what = f"{moment.day} {moment:%b %H:%M}{f', {trouble.note}' if trouble.note else ''}"
            lines.append(f"{what}: today's settings {_told(now.judged, number)}; row 1 {_told(best.judged, number)}.")
    return lines


def _told(judged: Judged, number: int) -> str:
    warning, late = judged.warnings[number], judged.late[number]
    if warning is not None:
        return f"told {_ahead(warning)}"
    return "never told of it" if late is None else f"told {show_duration(late)} after its start, too late"


def join_words(words: Sequence[str]) -> str:
    """Return words as a list in a sentence."""
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def _day(at: int, zone: ZoneInfo) -> str:
    moment = datetime.fromtimestamp(at / 1000, zone)
    return f"{moment.day} {moment:%b %Y}"
