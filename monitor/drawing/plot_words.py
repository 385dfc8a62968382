"""Descriptions of a plot over time in sentences, for people who listen to it."""

from collections.abc import Sequence

from monitor.drawing.plot import OverTime, Spans
from monitor.drawing.thinning import Thinned
from monitor.drawing.time_ticks import say_date, say_moment
from monitor.model.times import DAY_MS, show_duration

_LINES_MOST = 8


def say_over_time(picture: OverTime, thinned: Sequence[Thinned]) -> str:
    """Describe a plot in sentences: its span, each line's range and newest value, holds, pauses and marks."""
    say = say_date if picture.end - picture.start > 3 * DAY_MS else say_moment
    said = [f"From {say(picture.start, picture.zone)} to {say(picture.end, picture.zone)}."]
    pairs = list(zip(picture.lines, thinned, strict=True))
    for line, one in pairs[:_LINES_MOST]:
        if not len(one.milli):
            said.append(f"{line.name}: no readings.")
            continue
        low, high, last = (picture.unit.say(int(value)) for value in (one.milli.min(), one.milli.max(), one.milli[-1]))
        when = say_moment(int(one.times[-1]), picture.zone)
        gaps = len(one.starts) - 1
        paused = f", with {gaps} {'pause' if gaps == 1 else 'pauses'}" if gaps else ""
        outs = sum(start <= picture.end and end >= picture.start for start, end in line.outside)
        outside = f"; outside {'once' if outs == 1 else f'{outs} times'}" if outs else ""
        said.append(f"{line.name}: {low} to {high}{paused}{outside}; last {last} at {when}.")
    if len(pairs) > _LINES_MOST:
        said.append(f"And {len(pairs) - _LINES_MOST} more lines.")
    said += _say_spans(picture.hold_words, picture.holds) + _say_spans(picture.unproven_words, picture.unproven)
    for count, one_word, words in (
        (len(picture.turnings), "turning", "turnings"),
        (len(picture.notes), "lettered mark", "lettered marks"),
    ):
        if count:
            said.append(f"{count} {one_word if count == 1 else words}.")
    said += [f"Limit {picture.unit.say(limit.milli)}: {limit.label}." for limit in picture.limits[:6] if limit.label]
    return " ".join(said)


def _say_spans(words: str, spans: Spans) -> list[str]:
    if not len(spans):
        return []
    total = show_duration(sum(end - start for start, end in spans))
    times = "once" if len(spans) == 1 else f"{len(spans)} times"
    return [f"{words[:1].upper()}{words[1:]} {times}, {total} in all."]
