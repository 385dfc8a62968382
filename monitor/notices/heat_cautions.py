"""Cautions for anybody who goes to a hot heap: it scalds, smokes, burns and gives off gas; used in several messages.

A heap with a fan is cooled by it, never by water; where it smokes the fan is stopped, since air feeds the fire.
"""

from monitor.model.words import Method
from monitor.notices.facts import Phrases

_ASK = "does it drip, does it crumble?"
ASK_MOISTURE = f"Squeeze a handful: {_ASK}"
SQUEEZE = "fork out a handful, let it cool, then squeeze it"
ASK_HOT = f"{SQUEEZE.capitalize()}: {_ASK}"
SCALDS_MILLI_C = 50_000
"""From this temperature on nobody is told to reach in: 122 °F (50 °C) burns in minutes, 140 °F in seconds (from memory)."""
UPWIND = "Stay upwind: dry heaps give off dust and mold."
NEVER_IN = "Never put your head or body in: gas kills there without warning."
SHED = "In a shed or pit, stay outside: gas kills."
AIR_FIRST = "In a shed or pit, air it from outside first: gas kills."


def if_smoke(say: Phrases) -> str:
    """Return what to do about smoke: air feeds the fire, so a fan is stopped and a vessel stays shut."""
    return f"Smoke or a burnt smell: keep people off, {no_air(say)} (air feeds it), call the fire service."


def no_air(say: Phrases) -> str:
    """Return how to keep air from a heap that smokes."""
    return {
        Method.STATIC: "stop the fan, do not dig or turn it",
        Method.VESSEL: "stop the fan and keep it shut",
    }.get(say.method or Method.TURNED, "do not dig or turn it")


def _untouched(say: Phrases) -> str:
    """Return in fewest words that a heap that smokes is left alone: a vessel has a lid, a bay has none."""
    return "keep it shut" if say.method is Method.VESSEL else "do not dig"


def mind_opening(say: Phrases) -> str:
    """Return the danger to whoever opens a heap, shortest: it stands beside the deed, with nothing to unfold."""
    gas = {Method.VESSEL: f" {NEVER_IN}", Method.STATIC: f" {AIR_FIRST}"}.get(say.method or Method.TURNED, "")
    return f"Steam scalds, dust carries mold: gloves, mask, upwind. Smoke: {_untouched(say)}.{gas}"


def mind_smoke(say: Phrases) -> str:
    """Return the danger to whoever looks at a heap that may burn inside, shortest."""
    gas = NEVER_IN if say.method is Method.VESSEL else SHED
    return f"It scalds. Smoke or a burnt smell: {_untouched(say)}, keep away, call the fire service. {gas}"


def mind_fire(say: Phrases) -> str:
    """Return the danger to whoever comes to a burning heap, shortest."""
    gas = NEVER_IN if say.method is Method.VESSEL else SHED
    return f"Do not dig or turn it, and do not climb on it: it may be hollow. {gas}"


def ask_moisture(say: Phrases) -> str:
    """Return how to test how wet a heap is: with a fork where it may scald."""
    value = say.facts.value_milli
    return ASK_MOISTURE if value is not None and value < SCALDS_MILLI_C else ASK_HOT


def gas_where_hot(say: Phrases) -> str:
    """Return the warning of gas at a hot heap, which may stand in a shed however it is aired."""
    return f" {NEVER_IN if say.method is Method.VESSEL else AIR_FIRST}"


def gas_where_still(say: Phrases) -> str:
    """Return the warning of gas at a heap in a vessel or with a fan, where gas gathers while the fan stands still; else ""."""
    return {Method.VESSEL: f" {NEVER_IN}", Method.STATIC: f" {AIR_FIRST}"}.get(say.method or Method.TURNED, "")
