"""The sentences of a heap's alarms: first what is wrong, then what to do. `texts` has the rules."""

from monitor.model.alarm_kinds import Alarm
from monitor.model.words import Method
from monitor.notices.facts import Phrases
from monitor.notices.heat_cautions import (
    AIR_FIRST,
    ASK_HOT,
    NEVER_IN,
    SHED,
    SQUEEZE,
    UPWIND,
    ask_moisture,
    gas_where_hot,
    gas_where_still,
    if_smoke,
    mind_fire,
    mind_opening,
    mind_smoke,
    no_air,
)
from monitor.notices.known import Rounds
from monitor.notices.sentences import Sentence, Words, always, left_of_rule, needs, plain_head, progress, unmet
from monitor.notices.state import Message

_BY_HAND = "measure beside it with a long stem, from upwind, never from on top"


def _stalled_head(say: Phrases) -> str:
    return needs(say, "not up to temperature yet" if say.facts.variant == "no-hold" else "not heating up")


def _cold_corner_head(say: Phrases) -> str:
    other = say.facts.other_milli
    hottest = f", hottest {say.number(other)}" if other is not None else ""
    return f"{say.place}: cold corner, {say.value}{say.needs}{hottest}, {say.since}{say.heading}{say.bracketed}"


def _turning_due_head(say: Phrases) -> str:
    read = say.time(say.facts.read_at) if say.facts.read_at is not None else ""
    if say.facts.variant == "cooled":
        done = progress(say) + left_of_rule(say)
        by_hand = f" by hand at {read}," if read else ""
        hottest = f"hottest {say.value}{say.needs}{by_hand} {say.since}{say.heading}"
        return f"{say.place}: gone cold before {unmet(say)}, {hottest}" + (f", {done}" if done else "") + say.alone
    last, stale = say.facts.last_turned, say.facts.stale
    now, value = "now" if stale is None else f"at {say.time(stale.at)}, silent since", say.value
    if stale is not None and stale.read_at is not None:
        value = say.number(stale.read_milli)
        now = f"by hand at {say.time(stale.read_at)}, its probes silent since {say.time(stale.at)}"
    elif read:
        now = f"by hand at {read}"
    number = f", {value} {now}" if say.facts.value_milli is not None else ""
    done = progress(say) + left_of_rule(say)
    parts = [f"last turned {say.time(last)}" if last is not None else "not turned yet", *([done] if done else [])]
    return f"{say.place}: has needed turning {say.since}, {', '.join(parts)}{number}{say.alone}"


def _round_due_head(say: Phrases) -> str:
    rounds, variant = say.facts.rounds, say.facts.variant
    if rounds is None:
        return f"{say.place}: no round by hand {say.since}"
    last, due, breaks = (say.time(at) for at in (rounds.last, rounds.due, rounds.breaks))
    if variant == "broken":
        return f"{say.place}: its rounds broke off, the last {last}; the next had to come by {breaks}"
    if variant == "early":
        return f"{say.place}: its next round by hand is due by {due}, last read {last}"
    return f"{say.place}: not read by hand since {last}; a round was due by {due}"


def _cooled_unmet_head(say: Phrases) -> str:
    done = progress(say) + left_of_rule(say)
    return needs(say, f"cooled before {unmet(say)}") + (f", {done}" if done else "") + say.alone


def _heat(what: str) -> Sentence:
    def write(say: Phrases) -> str:
        read_at, turned_at = say.facts.read_at, say.facts.turned_at
        if turned_at is None or read_at is None:
            return plain_head(say, what)
        read = f"{say.value} at {say.time(read_at)}"
        turned = f"turned at {say.time(turned_at)} and not read since"
        return f"{say.place}: {what} when last read, {read}; {turned}{say.bracketed}"

    return write


def _fire_head(say: Phrases) -> str:
    return f"FIRE DANGER at {say.place}: {say.value}{say.returned}"


def _lost_head(say: Phrases) -> str:
    return (
        f"{say.place}: a probe went dead at {say.value}, silent {say.since} while its node still sends{say.bracketed}"
    )


def _look_head(say: Phrases) -> str:
    doubt = "perhaps a bad probe, perhaps fire"
    return f"{say.place}: a probe has shown {say.value} {say.since}: {doubt}{say.bracketed}"


def _stalled(say: Phrases) -> str:
    small = (
        "" if say.method is Method.VESSEL else " Under 3 ft (1 m) in any direction: build it bigger; in frost cover it."
    )
    more = f"Neither: mix in fresh greens.{small}"
    return f"{ask_moisture(say)} Dripping: mix in dry coarse stuff. Crumbling: wet it. {more}{gas_where_still(say)}"


def _cooled(say: Phrases) -> str:
    air = {
        Method.STATIC: "run the fan longer",
        Method.VESSEL: "open the vents or run the fan longer",
        Method.PASSIVE: "loosen it",
    }.get(say.method or Method.TURNED, "turn it")
    more = f"Neither: {air} and add fresh greens."
    return f"{ask_moisture(say)} Dripping: mix in dry coarse stuff. Crumbling: wet it. {more}{gas_where_still(say)}"


def _turning(say: Phrases) -> str:
    ask = ask_moisture(say) if say.facts.variant == "cooled" else f"Gloves on. {ASK_HOT}"
    dry = "Crumbling: wet it, upwind of dust and mold."
    # A heap that is read by hand has no probe to take out.
    turn = "Turn" if say.facts.read_at is not None else "Take all probes out first, then turn"
    return f"{turn} the outside in and log it. {ask} Dripping: mix in dry coarse stuff. {dry}"


def _round_due(say: Phrases) -> str:
    rounds = say.facts.rounds
    if rounds is None:
        return "Read it by hand and log it: its rule is proven by rounds."
    last, breaks, lost = say.time(rounds.last), say.time(rounds.breaks), _lost_with(rounds)
    if say.facts.variant == "broken":
        return f"Read it by hand and log it now: nothing from {last} to that round counts for its rule{lost}."
    return f"Read it by hand before {breaks} and log it: else nothing from {last} to the next round counts for its rule{lost}."


def _lost_with(rounds: Rounds) -> str:
    """Return the progress under the rule that breaks with a chain of rounds, with a comma before it; "" for none."""
    if (days := rounds.lost_days) > 0:
        which, verb = (f"its {days} days so far", "are") if days > 1 else ("its 1 day so far", "is")
        return f", and {which} {'may be' if rounds.recovers else verb} lost: days must follow one another"
    if rounds.lost_run:
        return ", and its hours in one piece begin anew"
    return ""


def _cold_corner(_: Phrases) -> str:
    return "Take all probes out first, then turn the outside in and log it. Stay upwind of dust and mold if it is dry."


def _beyond_rule(say: Phrases) -> str:
    """Return a sentence, with a blank before it, if the heap is hotter than its rule counts; else ""."""
    upper, value = say.facts.upper_milli, say.facts.value_milli
    if upper is None or value is None or value <= upper:
        return ""
    return f" Time above {say.number(upper)} does not count for its rule."


def _read_again(say: Phrases) -> str:
    """Return what to do at a heap that was turned after its last reading: nobody knows whether it is still so hot."""
    read = "Read it by hand now with a long stem, from upwind, never from on top, and log it"
    return f"{read}. {if_smoke(say)}{gas_where_hot(say)}"


def _hot(say: Phrases) -> str:
    if say.facts.turned_at is not None:
        return _read_again(say)
    if say.method is Method.STATIC:
        return f"Run the fan at full speed for a day. Wet only what is dry: {SQUEEZE}. {AIR_FIRST}"
    if say.method is Method.VESSEL:
        return f"Run the fan at full speed for a day and open the vents; do not wet it. {NEVER_IN}"
    if say.method is Method.PASSIVE:
        return f"Loosen it within a day, wetting what is dry as you go, never from the top alone. {UPWIND} {AIR_FIRST}"
    return f"Take all probes out, then turn and wet it within a day. {UPWIND} {AIR_FIRST}"


def _too_hot(say: Phrases) -> str:
    if say.facts.turned_at is not None:
        return _read_again(say)
    if say.method is Method.STATIC:
        keep_out = "do not reach in or pour water on. Stay upwind of dust and mold"
        return f"Run the fan at full speed; {keep_out}. {SHED} {if_smoke(say)}{_beyond_rule(say)}"
    if say.method is Method.VESSEL:
        return f"Run the fan at full speed and open the vents; do not wet it. {NEVER_IN} {if_smoke(say)}{_beyond_rule(say)}"
    return (
        "Keep your hands out: it scalds. Fork some out at the edge, let it cool, squeeze it. No smoke: with a charged hose "
        "at hand take it down in thin layers to under 5 ft (1.5 m), soaking what is dry as you spread it, upwind of dust and "
        f"mold; never dribble water on top. {SHED} {if_smoke(say)}{_beyond_rule(say)}"
    )


def _fire_steps(say: Phrases) -> tuple[str, ...]:
    """Return what to do at a heap that may burn, in the order of doing it, besides the call."""
    gas = NEVER_IN if say.method is Method.VESSEL else SHED
    still = no_air(say)
    return (
        "Keep people off. It may be hollow: do not climb on it.",
        f"{still[:1].upper()}{still[1:]}: air feeds it. Move away what can burn if you can do so safely. {gas}",
        "While there is no smoke, have water ready, watch it from upwind, look every hour and log it.",
    )


def _fire(say: Phrases) -> str:
    """Return the whole advice. When to call stands right after the first step, in a sentence of its own."""
    first, *rest = _fire_steps(say)
    return " ".join([first, "Smoke or a burnt smell: call the fire service (a compost heap, burning inside).", *rest])


def _lost(say: Phrases) -> str:
    return f"Look at it now. {if_smoke(say)} No smoke: {_BY_HAND}; put in another probe.{gas_where_hot(say)}"


def _look(say: Phrases) -> str:
    return f"Look at this probe now; {_BY_HAND}. {if_smoke(say)}{gas_where_hot(say)}"


def _fire_message(say: Phrases) -> Message:
    """Return the whole message: the danger must stand in the first 120 characters; where and since when can follow."""
    head = _fire_head(say)
    beyond = "Near or over the limit" if say.back else "Over the limit"
    turned_at = say.facts.turned_at
    turned = f"; turned at {say.time(turned_at)} and not read since" if turned_at is not None else say.heading
    detail = f"{beyond} {say.since}{turned}{say.bracketed}."
    return Message(f"{head}. {_fire(say)} {detail}", f"{head} {say.since}{turned}", known=say.facts.known)


def _turning_act(say: Phrases) -> str:
    return "Pull the probes, turn it, log it." if say.facts.read_at is None else "Turn it and log it."


_READ_AGAIN = "Read it again from upwind, and log it."
_LOOK_NOW = "Look now; at smoke call the fire service."


def _hot_act(say: Phrases) -> str:
    if say.facts.turned_at is not None:
        return _READ_AGAIN
    return {
        Method.STATIC: "Run the fan at full for a day.",
        Method.VESSEL: "Open the vents; run the fan at full.",
        Method.PASSIVE: "Loosen it within a day; wet dry parts.",
    }.get(say.method or Method.TURNED, "Pull the probes; turn and wet it today.")


def _too_hot_act(say: Phrases) -> str:
    if say.facts.turned_at is not None:
        return _READ_AGAIN
    if say.method in (Method.STATIC, Method.VESSEL):
        return "Run the fan at full; never reach in."
    return "Hose ready, then spread it in thin layers."


def _again_or(say: Phrases, deed: str) -> str:
    """Return the deed at a hot heap, which is to read it where it was turned since it was read."""
    return "read it again" if say.facts.turned_at is not None else deed


def _hot_deed(say: Phrases) -> str:
    by_method = {Method.STATIC: "run the fan", Method.VESSEL: "run the fan", Method.PASSIVE: "loosen it"}
    return _again_or(say, by_method.get(say.method or Method.TURNED, "turn and wet it"))


def _too_hot_deed(say: Phrases) -> str:
    """Return the deed at a heap that scalds: never the word of a worm bin, where cooling is another job."""
    return _again_or(say, "run the fan" if say.method in (Method.STATIC, Method.VESSEL) else "spread it thin")


HEAP_WORDS: dict[str, Words] = {
    Alarm.STALLED: Words(
        head=_stalled_head,
        advice=_stalled,
        act=always("Squeeze a handful; wet it or add greens."),
        deed=always("get it warm"),
        mind=mind_opening,
    ),
    Alarm.COLD_CORNER: Words(
        head=_cold_corner_head,
        advice=_cold_corner,
        act=always("Pull the probes, turn the outside in."),
        deed=always("turn it"),
        mind=mind_opening,
    ),
    Alarm.TURNING_DUE: Words(
        head=_turning_due_head, advice=_turning, act=_turning_act, deed=always("turn it"), mind=mind_opening
    ),
    Alarm.ROUND_DUE: Words(
        head=_round_due_head, advice=_round_due, act=always("Read it by hand and log it."), deed=always("read it")
    ),
    Alarm.COOLED_UNMET: Words(
        head=_cooled_unmet_head,
        advice=_cooled,
        act=always("Squeeze a handful; then wet or air it."),
        deed=always("get it warm again"),
        mind=mind_opening,
    ),
    Alarm.HOT: Words(
        head=_heat("hot"), advice=_hot, act=_hot_act, deed=_hot_deed, mind=mind_opening, read=lambda _: "is hot"
    ),
    Alarm.TOO_HOT: Words(
        head=_heat("too hot"),
        advice=_too_hot,
        act=_too_hot_act,
        deed=_too_hot_deed,
        mind=mind_smoke,
        read=lambda _: "is too hot",
    ),
    Alarm.FIRE: Words(
        head=_fire_head,
        advice=_fire,
        act=always("Keep people off. Smoke: call the fire service."),
        deed=always("keep people off"),
        steps=_fire_steps,
        mind=mind_fire,
        read=lambda _: "is fire danger",
        whole=_fire_message,
    ),
    Alarm.HOT_AND_LOST: Words(
        head=_lost_head, advice=_lost, act=always(_LOOK_NOW), deed=always("look now"), mind=mind_smoke
    ),
    Alarm.LOOK_AT_PROBE: Words(
        head=_look_head, advice=_look, act=always(_LOOK_NOW), deed=always("look now"), mind=mind_smoke
    ),
}
