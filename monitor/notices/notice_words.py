"""The sentences of one-time notices and of ends: first the news, then what to do. `texts` has the rules."""

from monitor.model.alarm_kinds import CATALOG, About, WrongSide
from monitor.model.units import Quantity
from monitor.notices.facts import Phrases
from monitor.notices.heat_cautions import ask_moisture, gas_where_hot, if_smoke
from monitor.notices.names import join_names
from monitor.notices.sentences import Words, always, plain_head, progress
from monitor.notices.whence import whence


def _rule_met_head(say: Phrases) -> str:
    done = progress(say)
    return f"{say.place}: met its rule at {say.time(say.facts.since)}" + (f", {done}" if done else "") + say.alone


def _reheating_head(say: Phrases) -> str:
    return f"{say.place}: heating up again, hottest {say.value}{say.returned} {say.since}{say.heading}"


def _suggested_head(say: Phrases) -> str:
    number = f"; hottest {say.value} now" if say.facts.value_milli is not None else ""
    when = say.time(say.facts.since)
    return f"{say.place}: turned at about {when}? Nobody has logged it{number}"


def _probes_out_head(say: Phrases) -> str:
    out, rest = say.facts.outside.out, say.facts.outside.rest
    which = join_names(say.names(out)) if out else "probes"
    back = f"; {join_names(say.names(rest))} {'is' if len(rest) == 1 else 'are'} in" if rest else ""
    has = "has" if len(out) == 1 else "have"
    return f"{say.place}: {which} {has} been outside {say.since}{back}"


def _named(say: Phrases) -> str:
    alarm = say.facts.ending.alarm
    probe = f" ({say.probe})" if say.facts.probe and alarm in CATALOG and CATALOG[alarm].of_probe else ""
    return (CATALOG[alarm].name if alarm in CATALOG else "trouble") + probe


def _read_late_head(say: Phrases) -> str:
    where = say.hand(say.facts.probe)
    return (
        f"{say.place}: {say.value} was read by hand{where} at {say.time(say.facts.since)}, {_named(say)}{say.returned}; "
        "it was logged only now"
    )


def _apart_head(say: Phrases) -> str:
    where, read = say.hand(say.facts.hand_series), say.number(say.facts.hand_milli)
    return f"{say.place}: {read} by hand{where} at {say.time(say.facts.since)}, but {say.probe} shows {say.value}"


def _over(say: Phrases) -> str:
    ending = say.facts.ending
    if ending.taken_back:
        return f"{say.place}: taken back, mistyped: {_named(say)} {say.since}"
    last = f", last {say.value}" if say.facts.value_milli is not None else ""
    if ending.moved_to:
        where = say.other_place(ending.moved_to)
        return f"{say.place}: {_named(say)} {say.since}{last}, went with the heap to {where}"
    if ending.left:
        gone = say.names([ending.left])[0]
        return f"{say.place}: not known to be over: {_named(say)} {say.since}{last}; {gone} was taken away"
    until = say.time(ending.until if ending.until is not None else say.facts.now)
    now = f", now {say.value}" if say.facts.value_milli is not None else ""
    return f"{say.place}: {_named(say)}, over since {until} (it began {say.time(say.facts.since)}){now}"


def _sinks(alarm: str) -> bool:
    """Return whether an alarm is worse the lower its number."""
    return alarm in CATALOG and CATALOG[alarm].side is WrongSide.BELOW


def _past(say: Phrases) -> str:
    ending = say.facts.ending
    span = f"from {say.time(say.facts.since)}" + (f" to {say.time(ending.until)}" if ending.until is not None else "")
    went = "down to" if _sinks(ending.alarm) else "up to"
    worst = f", {went} {say.value}" if say.facts.value_milli is not None else ""
    return f"{say.place}: {_named(say)} {span}{worst}, over now{say.bracketed}"


def _rule_met(_: Phrases) -> str:
    return (
        "Let it cool and cure: clean forks, clean thermometer, nothing raw on top from now on. This is time and temperature "
        "alone; the rule's other terms are for you to see to."
    )


def _ready(say: Phrases) -> str:
    # 120 and 90 days: 7 CFR 205.203(c)(1).
    own = (
        ""
        if say.facts.rule_met
        else " Own use only, no rule is met: use it like raw manure (US organic rule: 120 days before harvest where the crop "
        "touches soil, else 90; your local code may ask for more)."
    )
    no_air = f" No probe measures the air: judged by {say.limit} alone." if say.facts.no_air else ""
    return (
        "Turn and wet it once and see that it stays cool for 72 h: a heap that only went dry heats again. If there is no "
        f"ammonia smell, try a handful of worms for 48 h first. In frost, worms wait.{no_air}{own}"
    )


def _reheating(say: Phrases) -> str:
    return f"Keep worms out of it. {ask_moisture(say)} Log what was added or turned, if anything was."


def _suggested(_: Phrases) -> str:
    return "Log it if you turned it; if nobody did, see whether the probes still sit where they belong."


def _probes_out(say: Phrases) -> str:
    known = say.facts.outside
    what = "only the others count for the rule" if known.rest else "nothing counts for the rule"
    one = len(known.out) == 1
    if known.aside:
        what = f"what {'it shows' if one else 'they show'} is judged by nobody"
    if known.shut:
        # Nobody is sent to such a heap for the sake of a probe.
        it, back = ("it", "it is back") if one else ("them", "they are back")
        return f"Leave {it} out while the heap may burn; until {back} {what}."
    put = "Put it back, or log it in if it is in" if one else "Put them back, or log them in if they are in"
    return f"{put}: until then {what}."


def _read_late(say: Phrases) -> str:
    if say.is_bin:
        return "Look at it now and read it again; if it is still so warm, shade it and cool it at once."
    return f"Look at it now and read it again with a long stem, from upwind. {if_smoke(say)}{gas_where_hot(say)}"


def _apart(_: Phrases) -> str:
    return "Look at the probe: does it sit in the heap or bed, as deep as it should? Check both in melting ice."


def _ended(say: Phrases) -> str:
    ending = say.facts.ending
    if ending.taken_back:
        return "Nothing to do: the reading by hand behind it was taken back."
    kind = CATALOG.get(ending.alarm)
    if ending.moved_to:
        where = say.other_place(ending.moved_to)
        return f"Look after {where} now: the danger is there until somebody reads it again."
    if ending.left:
        smoke = "" if say.is_bin else f" {if_smoke(say)}{gas_where_hot(say)}"
        return f"Look at it now, read it by hand and log it: nothing measures it any more.{smoke}"
    if kind is not None and kind.shuts:
        return "Look at it once more in the next hours; heat can come back."
    if kind is not None and kind.about is About.BED and kind.quantity is Quantity.TEMPERATURE:
        return "See how the worms are when you next pass."
    return "Nothing to do now."


def _probes_out_act(say: Phrases) -> str:
    known = say.facts.outside
    it = "it" if len(known.out) == 1 else "them"
    return f"Leave {it} out while it may burn." if known.shut else f"Put {it} back, or log {it} in."


def _probes_out_deed(say: Phrases) -> str:
    known = say.facts.outside
    it = "it" if len(known.out) == 1 else "them"
    return f"leave {it} out" if known.shut else f"put {it} back"


def _ended_act(say: Phrases) -> str:
    """Return the act that is left after an alarm; "" for none."""
    ending = say.facts.ending
    kind = CATALOG.get(ending.alarm)
    if ending.taken_back:
        return ""
    if ending.moved_to:
        return "Look after it where it lies now."
    if ending.left:
        return "Look at it and read it by hand."
    return "Look again in the next hours." if kind is not None and kind.shuts else ""


NOTICE_WORDS: dict[str, Words] = {
    "warm-spot": Words(
        head=lambda say: plain_head(say, "warm spot"),
        advice=lambda say: f"Feed the other side and look again tomorrow.{whence(say)}",
        act=always("Feed the other side."),
    ),
    "rule-met": Words(head=_rule_met_head, advice=_rule_met, act=always("Let it cool; put nothing raw on it.")),
    "ready": Words(
        head=lambda say: plain_head(say, "cool enough for worms"),
        advice=_ready,
        act=always("Turn and wet it, then wait 72 h."),
    ),
    "reheating": Words(head=_reheating_head, advice=_reheating, act=always("Keep worms out of it.")),
    "suggested-turning": Words(
        head=_suggested_head, advice=_suggested, act=always("Log it, or check where the probes sit.")
    ),
    "probes-out": Words(head=_probes_out_head, advice=_probes_out, act=_probes_out_act, deed=_probes_out_deed),
    "over": Words(head=_over, advice=_ended, act=_ended_act),
    "past": Words(head=_past, advice=_ended, act=_ended_act),
    "read-late": Words(head=_read_late_head, advice=_read_late, act=always("Look at it and read it again.")),
    "apart": Words(head=_apart_head, advice=_apart, act=always("See whether the probe sits as it should.")),
}
