"""What to do now at a heap that is hot, burning, cold or still; the rules are those of `advice`.

A heap with a fan is cooled by it, never by water; where it smokes the fan is stopped, since air feeds the fire.
"""

from collections.abc import Callable

from monitor.model.alarm_kinds import Alarm
from monitor.model.words import Method
from monitor.notices.facts import Phrases

_ASK = "does it drip, does it crumble?"
ASK_MOISTURE = f"Squeeze a handful: {_ASK}"
_SQUEEZE = "fork out a handful, let it cool, then squeeze it"
ASK_HOT = f"{_SQUEEZE.capitalize()}: {_ASK}"
SCALDS_MILLI_C = 50_000
"""From here on nobody is told to take a handful out by hand: 122 °F (50 °C) burns in minutes, 140 °F in seconds (memory)."""
UPWIND = "Stay upwind: dry heaps give off dust and mold."
NEVER_IN = "Never put your head or body in: gas kills there without warning."
SHED = "In a shed or pit stay outside: gas kills."
AIR_FIRST = "In a shed or pit air it from outside first: gas kills."

Advice = Callable[[Phrases], str]


def if_smoke(say: Phrases) -> str:
    """Return what to do where it smokes: air feeds the fire, so a fan is stopped and a vessel stays shut."""
    return f"Smoke or a burnt smell: keep people off, {_no_air(say)} (air feeds it), call the fire service."


def _no_air(say: Phrases) -> str:
    return {
        Method.STATIC: "stop the fan, do not dig or turn it",
        Method.VESSEL: "stop the fan and keep it shut",
    }.get(say.method or Method.TURNED, "do not dig or turn it")


def ask_moisture(say: Phrases) -> str:
    """Return how to find out how wet a heap is; where it may scald, with a fork."""
    value = say.facts.value_milli
    return ASK_MOISTURE if value is not None and value < SCALDS_MILLI_C else ASK_HOT


def gas_where_hot(say: Phrases) -> str:
    """Return the warning of gas for whoever is sent to a hot heap, which may stand in a shed however it is aired."""
    return f" {NEVER_IN if say.method is Method.VESSEL else AIR_FIRST}"


def _gas(say: Phrases) -> str:
    """Return the warning of gas for a heap that stands in a vessel, or with a fan, where it gathers when that stands still."""
    return {Method.VESSEL: f" {NEVER_IN}", Method.STATIC: f" {AIR_FIRST}"}.get(say.method or Method.TURNED, "")


def _stalled(say: Phrases) -> str:
    small = (
        "" if say.method is Method.VESSEL else " Under 3 ft (1 m) in any direction: build it bigger; in frost cover it."
    )
    more = f"Neither: mix in fresh greens.{small}"
    return f"{ask_moisture(say)} Dripping: mix in dry coarse stuff. Crumbling: wet it. {more}{_gas(say)}"


def _cooled(say: Phrases) -> str:
    air = {
        Method.STATIC: "run the fan longer",
        Method.VESSEL: "open the vents or run the fan longer",
        Method.PASSIVE: "loosen it",
    }.get(say.method or Method.TURNED, "turn it")
    more = f"Neither: {air} and add fresh greens."
    return f"{ask_moisture(say)} Dripping: mix in dry coarse stuff. Crumbling: wet it. {more}{_gas(say)}"


def _turning(say: Phrases) -> str:
    ask = ask_moisture(say) if say.facts.extra.get("variant") == "cooled" else f"Gloves on. {ASK_HOT}"
    dry = "Crumbling: wet it, upwind of dust and mold."
    return f"Turn the outside in and log it. {ask} Dripping: mix in dry coarse stuff. {dry}"


def _round_due(say: Phrases) -> str:
    last, breaks = say.extra_time("read_at"), say.extra_time("breaks_at")
    if last is None or breaks is None:
        return "Read it by hand and log it: its rule is proven by rounds."
    lost = _lost_with_chain(say)
    if say.facts.extra.get("variant") == "broken":
        return f"Read it by hand and log it now: nothing from {last} to that round counts for its rule{lost}."
    return f"Read it by hand before {breaks} and log it: else nothing from {last} to the next round counts for its rule{lost}."


def _lost_with_chain(say: Phrases) -> str:
    """Return what of a rule's progress goes with a chain of rounds, with a comma before it; "" where all stays."""
    days, recovers = say.facts.extra.get("lost_days"), bool(say.facts.extra.get("recovers"))
    if isinstance(days, int) and days > 0:
        which, verb = (f"its {days} days so far", "are") if days > 1 else ("its 1 day so far", "is")
        return f", and {which} {'may be' if recovers else verb} lost: days must follow one another"
    if say.facts.extra.get("lost_run"):
        return ", and its hours in one piece begin anew"
    return ""


def _cold_corner(_: Phrases) -> str:
    return "Turn the outside in, all probes out first, and log it. Stay upwind of dust and mold if it is dry."


def _beyond_rule(say: Phrases) -> str:
    """Return a sentence where the heap is hotter than its rule counts, with a blank before it; else nothing."""
    upper, value = say.facts.extra.get("upper_milli"), say.facts.value_milli
    if not isinstance(upper, int) or value is None or value <= upper:
        return ""
    return f" Time above {say.number(upper)} does not count for its rule."


def _read_again(say: Phrases) -> str:
    """Return what to do at a heap that was turned since it was read: nobody knows whether it is still so hot."""
    read = "Read it by hand now with a long stem, from upwind, never from on top, and log it"
    return f"{read}. {if_smoke(say)}{gas_where_hot(say)}"


def _hot(say: Phrases) -> str:
    if say.turned_at is not None:
        return _read_again(say)
    if say.method is Method.STATIC:
        return f"Run the fan at full speed for a day. Wet only what is dry: {_SQUEEZE}. {AIR_FIRST}"
    if say.method is Method.VESSEL:
        return f"Run the fan at full speed for a day and open the vents; do not wet it. {NEVER_IN}"
    if say.method is Method.PASSIVE:
        return f"Loosen it within a day, wetting what is dry as you go, never from the top alone. {UPWIND} {AIR_FIRST}"
    return f"Take all probes out, then turn and wet it within a day. {UPWIND} {AIR_FIRST}"


def _too_hot(say: Phrases) -> str:
    if say.turned_at is not None:
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


def _fire(say: Phrases) -> str:
    doubt = " The probe may be failing; act as if it were true." if say.facts.extra.get("unsure") else ""
    gas = NEVER_IN if say.method is Method.VESSEL else SHED
    return (
        "Keep people off. It may be hollow: do not climb on it. At smoke or a burnt smell call the fire service (a compost "
        f"heap, burning inside) and {_no_air(say)}: air feeds it. Move away what can burn. {gas} No smoke: have water ready, "
        f"watch it from upwind, look every hour and log it.{doubt}"
    )


def _lost(say: Phrases) -> str:
    return f"Look at it now. {if_smoke(say)} No smoke: {_BY_HAND}; put in another probe.{gas_where_hot(say)}"


def _look(say: Phrases) -> str:
    return f"Look at this probe now; {_BY_HAND}. {if_smoke(say)}{gas_where_hot(say)}"


_BY_HAND = "measure beside it with a long stem, from upwind, never from on top"


HEAP_ADVICE: dict[str, Advice] = {
    Alarm.STALLED: _stalled,
    Alarm.COLD_CORNER: _cold_corner,
    Alarm.TURNING_DUE: _turning,
    Alarm.ROUND_DUE: _round_due,
    Alarm.COOLED_UNMET: _cooled,
    Alarm.HOT: _hot,
    Alarm.TOO_HOT: _too_hot,
    Alarm.FIRE: _fire,
    Alarm.HOT_AND_LOST: _lost,
    Alarm.LOOK_AT_PROBE: _look,
}
"""What to do, by the id of a heap's alarm."""
