"""The lines of the digest, one sentence each; what they ask for can wait. `texts` has the rules."""

from monitor.model.readings import is_hand
from monitor.notices.facts import Phrases
from monitor.notices.sentences import Words, plain_head


def _holding(say: Phrases) -> str:
    coldest = f", coldest {say.value}{say.returned}" if say.facts.value_milli is not None else ""
    return f"{say.place}: at temperature throughout{coldest}, {say.since}{say.heading}{say.bracketed}"


def _empty_yet_warm(say: Phrases) -> str:
    what = "what was put in (bedded, fed)" if say.is_bin else "the heap as built"
    if is_hand(say.facts.probe):
        return (
            f"{say.place}: empty by the log, but {say.value} was read {say.probe}: log {what}, or take the reading back"
        )
    return f"{say.place}: empty by the log, but {say.probe} reads {say.value}: log {what}, or the probe as taken out"


def _flat(say: Phrases) -> str:
    return f"{say.place}: {say.probe} has shown exactly {say.value} {say.since}; see whether it is stuck"


def _cold(say: Phrases) -> str:
    return f"{plain_head(say, 'cold')}; give no wet food: it would lie there and heat up in spring"


LINE_WORDS: dict[str, Words] = {
    "holding": Words(head=_holding),
    "cool": Words(head=lambda say: f"{plain_head(say, 'cool')}; feed half as much"),
    "cold": Words(head=_cold),
    "warm": Words(head=lambda say: plain_head(say, "warm")),
    "pile-too-dry": Words(
        head=lambda say: (
            f"{plain_head(say, 'dry')}; when you next work on it, wet it all through, never from on top alone"
        )
    ),
    "pile-too-wet": Words(
        head=lambda say: f"{plain_head(say, 'wet')}; mix in dry coarse stuff when you next work on it"
    ),
    "oxygen": Words(head=lambda say: f"{plain_head(say, 'oxygen low')}; give it air"),
    "flat-line": Words(head=_flat),
    "unread": Words(head=lambda say: f"{say.place}: nobody has read it {say.since}; read it by hand and log it"),
    "empty-yet-warm": Words(head=_empty_yet_warm),
}
