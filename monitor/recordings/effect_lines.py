"""Effects as JSON lines, in the key order that scripts rely on. Notices are effects, with their text."""

from collections.abc import Iterable
from typing import TextIO

from monitor.model.effects import Effect, EffectKind
from monitor.model.times import show_time
from monitor.recordings.canonical_json import compact, plain


def effect_line(effect: Effect) -> str:
    """Return an effect as its line, without the line end."""
    draft = effect.draft
    fields = {
        "time": show_time(effect.at),
        "place": draft.place,
        "kind": draft.kind.value,
        "axis": draft.axis,
        "from": draft.before,
        "to": draft.after,
        "why": draft.why,
        "since": show_time(draft.since),
        "reason": draft.reason,
        "probe": draft.probe,
        "values": plain(dict(draft.values)),
    }
    if draft.kind is EffectKind.NOTICE:
        fields["text"] = draft.text
    return compact(fields, ordered=True)


def write_effects(effects: Iterable[Effect], out: TextIO) -> int:
    """Write effects, a line each, in the order given (that of their ids), and return their number."""
    count = 0
    for effect in effects:
        out.write(effect_line(effect) + "\n")
        count += 1
    return count
