"""Draws the pictures for `tune` and `replay --set`: the settings that were tried, and the record as a strip."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from monitor.app.tuning_report.tuning_words import per_of
from monitor.drawing import (
    Band,
    BandLook,
    Choice,
    ChoiceRole,
    Choices,
    Ink,
    Message,
    MessageLook,
    Strip,
    StripRow,
    Trouble,
    choices,
    inline,
    strip,
)
from monitor.model.effects import Effect, EffectKind
from monitor.model.words import Phase, Thermal
from monitor.tuning import Call, Fate, Findings, Ground, Kind, Pair, pairs_of

_LOOKS = {
    Thermal.OVERHEATING.value: BandLook.HOT,
    Thermal.WARM.value: BandLook.WARM,
    Thermal.COOL.value: BandLook.COLD,
    Thermal.COLD.value: BandLook.COLD,
    Thermal.UNKNOWN.value: BandLook.UNKNOWN,
    Phase.HEATING.value: BandLook.WARM,
    Phase.HOLDING.value: BandLook.HOT,
}
_FATES = {
    Fate.STAYS: MessageLook.KEPT,
    Fate.MOVED: MessageLook.MOVED,
    Fate.GONE: MessageLook.GONE,
    Fate.NEW: MessageLook.NEW,
}
_AXES = ("thermal", "phase")
_WIDTH = 960


def captions(findings: Findings, pile: bool) -> tuple[str, str]:
    """Return the captions of the two pictures, which explain their marks."""
    choice = (
        "Each circle is a setting that was tried, the larger the more troubles it caught (filled: all of them): up is an "
        "earlier warning, left are fewer needless messages. Those with a number are the rows above. The square is today's, "
        "the ring with a dot the one that was best on the weeks to choose on."
    )
    ground, parts = findings.ground, []
    if ground.troubles:
        parts.append(f"Brackets above are the troubles{', dots what was fine' if ground.fine_said else ''}.")
    parts.append(
        "Each triangle is a message: open ones would no longer come, larger ones are new, those with a bar move."
    )
    if pile:
        parts.append("The bands are the phases: warm while heating, hatched while holding.")
    else:
        parts.append(
            "The bands say how the bin was: green for comfort, brown for warm, hatched upright for cool or cold, slanted and "
            "red for too hot, slanted and white for not known."
        )
    return choice, " ".join(parts)


@dataclass(frozen=True, slots=True, kw_only=True)
class Side:
    """A run for the strip: its name, effects and messages."""

    name: str
    effects: Sequence[Effect]
    calls: Sequence[Call]


def strip_picture(ground: Ground, zone: ZoneInfo, now: Side, changed: Side | None, title: str) -> str:
    """Return the record as a strip in SVG: conditions, messages and labels, and below them the messages of another run.

    Args:
        ground: The truth, with the place and the span.
        zone: The site's time zone.
        now: Today's run.
        changed: The other run, or None.
        title: The picture's title.
    """
    pairs = pairs_of(now.calls, changed.calls) if changed is not None else ()
    rows = [StripRow(name=now.name, bands=_bands(now.effects, ground), messages=_of_now(now, pairs))]
    if changed is not None:
        rows.append(StripRow(name=changed.name, bands=_bands(changed.effects, ground), messages=_of_changed(pairs)))
    labels = [Trouble(start=one.start, end=one.end, label=one.note) for one in ground.troubles]
    if ground.fine_said:
        labels += [Trouble(start=start, end=end, fine=True) for start, end in ground.judged]
    inside = [one for one in labels if one.start < ground.end and one.end > ground.start]
    return strip(
        Strip(
            start=ground.start,
            end=max(ground.end, ground.start + 1),
            zone=zone,
            rows=tuple(rows),
            troubles=tuple(sorted(inside, key=lambda one: (one.start, one.end))),
            width=_WIDTH,
            title=title,
        )
    )


def _of_now(now: Side, pairs: Sequence[Pair]) -> tuple[Message, ...]:
    if not pairs:
        return tuple(Message(at=call.first, words=call.why) for call in now.calls)
    # A message that moved is marked in the lower row, at its new time; the upper row shows it as it was.
    looks = {Fate.GONE: MessageLook.GONE}
    mine = [(pair.now, looks.get(pair.fate, MessageLook.KEPT)) for pair in pairs if pair.now is not None]
    return tuple(Message(at=call.first, words=call.why, look=look) for call, look in mine)


def _of_changed(pairs: Sequence[Pair]) -> tuple[Message, ...]:
    theirs = [(pair.changed, _FATES[pair.fate]) for pair in pairs if pair.changed is not None]
    messages = [Message(at=call.first, words=call.why, look=look) for call, look in theirs]
    return tuple(sorted(messages, key=lambda one: one.at))


def _bands(effects: Sequence[Effect], ground: Ground) -> tuple[Band, ...]:
    """Return a bin's thermal condition, or a pile's phase, as bands without gaps."""
    changes = [
        (effect.at, effect.draft.after or "")
        for effect in effects
        if effect.draft.place == ground.place
        and effect.draft.kind in (EffectKind.CONDITION, EffectKind.PHASE)
        and effect.draft.axis in _AXES
        and effect.at < ground.end
    ]
    ends = [*(at for at, _ in changes[1:]), *([ground.end] if changes else [])]
    return tuple(
        Band(start=max(at, ground.start), end=end, word=word, look=_LOOKS.get(word, BandLook.CALM))
        for (at, word), end in zip(changes, ends, strict=True)
        if end > max(at, ground.start)
    )


def choices_picture(findings: Findings, named: str, title: str) -> str:
    """Return the tried sets as a picture in SVG; "" if the findings are only counts.

    Args:
        findings: The findings.
        named: The suggested set in words, its label.
        title: The picture's title.
    """
    if findings.kind is Kind.WHAT_IF:
        return ""
    word, span = per_of(findings)
    shown = [
        Choice(
            needless_milli=round(1000 * one.needless_in(span)),
            warning_ms=one.median_ms,
            caught=one.caught,
            troubles=one.troubles,
        )
        for one in findings.points
    ]
    for number, row in enumerate(findings.rows, 1):
        role = ChoiceRole.TODAY if row.today else ChoiceRole.CHOSEN if row.suggested else ChoiceRole.TRIED
        shown.append(
            Choice(
                needless_milli=round(1000 * row.score.needless_in(span)),
                warning_ms=row.score.median_ms,
                caught=row.score.caught,
                troubles=row.score.troubles,
                label=named if row.suggested and not row.today else "",
                row=str(number),
                role=role,
            )
        )
    return choices(Choices(points=tuple(shown), per=word, width=_WIDTH, title=title))


def one_svg(pictures: Sequence[str]) -> str:
    """Return several pictures as a single SVG, one below the other, in colours of its own: no stylesheet goes with it."""
    pictures = [inline(picture, Ink.PRINT) for picture in pictures if picture]
    if len(pictures) == 1:
        return pictures[0] + "\n"
    placed, top, width = [], 0.0, 0.0
    for picture in pictures:
        size = re.search(r'width="([\d.]+)" height="([\d.]+)"', picture) or re.search(r"()()$", picture)
        wide, high = (float(size[1] or _WIDTH), float(size[2] or 400)) if size is not None else (float(_WIDTH), 400.0)
        placed.append(picture.replace("<svg ", f'<svg y="{top:g}" ', 1))
        top, width = top + high + 16, max(width, wide)
    inside = "\n".join(placed)
    size_of_all = f'width="{width:g}" height="{top:g}" viewBox="0 0 {width:g} {top:g}"'
    return f'<svg xmlns="http://www.w3.org/2000/svg" {size_of_all}>\n{inside}\n</svg>\n'
