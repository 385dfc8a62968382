"""The sentences about faults of probes, nodes and links: first the fault, then what to do. `texts` has the rules."""

from monitor.model.alarm_kinds import Alarm
from monitor.model.settings import AMBIENT
from monitor.model.times import show_duration
from monitor.model.units import Quantity
from monitor.notices.facts import Phrases
from monitor.notices.localtime import say_span
from monitor.notices.sentences import Words, always


def _quiet_probe(say: Phrases, what: str, last: str) -> str:
    number = f", {last} {say.value}" if say.facts.value_milli is not None else ""
    return f"{say.place}: {what} {say.since}{number}{say.bracketed}"


def _clock_head(say: Phrases) -> str:
    by, limit, variant = say.facts.clock.by_ms, say.facts.clock.limit_ms, say.facts.variant
    off = f" by {say_span(abs(by))}" if by is not None else ""
    bound = f" (limit {show_duration(limit)})" if limit is not None else ""
    if say.facts.probe:
        far = f" {say_span(abs(by))}" if by is not None else ""
        return f"{say.place}: the clock of {say.probe} has been{far} ahead{bound} {say.since}"
    way = " back" if by is not None and by < 0 else ""
    if variant == "record" and by is not None:
        return f"{say.place}: the record is {say_span(abs(by))} ahead of the time because the clock was wrong before"
    if variant == "nodes" and by is not None:
        side = "behind" if by > 0 else "ahead of"
        return f"{say.place}: the computer's clock is {say_span(abs(by))} {side} the probes' clocks"
    return f"{say.place}: the computer's clock jumped{way}{off}{bound} at {say.time(say.facts.since)}"


def _link_head(say: Phrases) -> str:
    fault = say.facts.fault
    name = say.word(fault.name) or "a link"
    why = f" ({say.word(fault.why)})" if fault.why else ""
    if fault.what == "channel":
        return f"{say.place}: messages by {name} have not come through {say.since}{why}"
    if say.facts.fault.what == "mirror":
        return f"{say.place}: the copy to {name} has not come through {say.since}{why}"
    return f"{say.place}: nothing has come from {name} {say.since}{why}"


def _unwatched_head(say: Phrases) -> str:
    return f"{say.place}: no thermometer has watched it {say.since}, when {say.probe} was taken away"


def _silent(say: Phrases) -> str:
    if say.facts.place in ("", AMBIENT):
        return "Check its battery, cable and radio. Until it is back, the air is judged without it."
    if say.facts.empty:
        return "Check its battery, cable and radio when you next pass. By the log nothing lies here."
    if say.facts.value_milli is None and not say.is_bin and say.facts.quantity is Quantity.TEMPERATURE:
        out = "If it is not in there, log it as out: while it counts as in, nothing is proven beside it"
        return f"Check its battery, cable and radio. {out}."
    return f"Check its battery, cable and radio. Until it is back, {_by_hand(say)}."


def _broken(say: Phrases) -> str:
    if say.facts.empty:
        return "Check its cable and seat, or swap it, when you next pass. By the log nothing lies here."
    return f"Check its cable and seat; swap the probe if that does not help. Until then {_by_hand(say)}."


def _by_hand(say: Phrases) -> str:
    """Return how to do without a probe: temperatures can be read by hand, moisture only felt in a squeezed handful."""
    if say.facts.quantity is Quantity.MOISTURE:
        return "squeeze a handful when you pass"
    return f"measure {'the bin' if say.is_bin else 'the pile'} by hand"


def _clock(say: Phrases) -> str:
    if say.facts.probe:
        return "Set the clock of its node; what it sends from the future is put aside and counts for nothing."
    if say.facts.variant == "record":
        return (
            "Look at the yard yourself until the time has caught up: no message is repeated and no silence is noticed."
        )
    if say.facts.variant == "nodes":
        return "Set the computer's clock and check its network time; until then the yard is judged by the probes' time."
    return "Set the computer's clock and check its network time; until it is right, times here may be wrong."


def _link(say: Phrases) -> str:
    if say.facts.fault.what == "channel":
        return "Check its account and the network; until then look at the page, since messages may not reach you."
    if say.facts.fault.what == "mirror":
        return "Check its server and the network; the record here goes on, and the copy catches up."
    return "Check cable, power and network; it keeps trying. Until then measure by hand."


def _unwatched(_: Phrases) -> str:
    return "Put a probe in, or read it by hand and log it: until then nothing here rings by itself."


def _clock_act(say: Phrases) -> str:
    if say.facts.probe:
        return "Set the clock of its node."
    return "Look at the yard yourself." if say.facts.variant == "record" else "Set the computer's clock."


def _clock_deed(say: Phrases) -> str:
    return "look yourself" if not say.facts.probe and say.facts.variant == "record" else "set the clock"


def _link_act(say: Phrases) -> str:
    return {
        "channel": "Check its account and the network.",
        "mirror": "Check its server and the network.",
    }.get(say.facts.fault.what, "Check cable, power and network.")


PROBE_WORDS: dict[str, Words] = {
    Alarm.SILENT: Words(
        head=lambda say: _quiet_probe(say, "no word from a probe", "last reading"),
        advice=_silent,
        act=always("Check its battery, cable and radio."),
        deed=always("check the probe"),
    ),
    Alarm.BROKEN: Words(
        head=lambda say: _quiet_probe(say, "nothing usable from a probe", "last good reading"),
        advice=_broken,
        act=always("Check its cable and seat, or swap it."),
        deed=always("mend the probe"),
    ),
    Alarm.CLOCK: Words(head=_clock_head, advice=_clock, act=_clock_act, deed=_clock_deed),
    Alarm.LINK: Words(head=_link_head, advice=_link, act=_link_act, deed=always("mend the link")),
    Alarm.UNWATCHED: Words(
        head=_unwatched_head,
        advice=_unwatched,
        act=always("Put a probe in or read by hand."),
        deed=always("measure it"),
    ),
}
