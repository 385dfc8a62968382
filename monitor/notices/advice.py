"""What to do now: one or a few plain sentences an alarm, the first beginning with a verb.

Rules: from temperature alone no cause is stated, only asked; danger to people comes before the heap; nothing is asked
of a tired person that can wait. Turning dry material raises dust and mold, so those texts say to stay upwind.
Source: design of this project, section 4 (cautions); the rest is common practice, no published source.
"""

from collections.abc import Callable

from monitor.notices.facts import Phrases

ASK_MOISTURE = "Squeeze a handful: does it drip, does it crumble?"
UPWIND = "Stay upwind: dry heaps give off dust and mold."
IF_SMOKE = "At smoke or a burnt smell keep people off, do not dig or turn it (air feeds it), call the fire service."

_Advice = Callable[[Phrases], str]


def _stalled(_: Phrases) -> str:
    return f"{ASK_MOISTURE} Dripping: mix in dry coarse stuff. Crumbling: wet it. Neither: mix in fresh greens."


def _cooled(say: Phrases) -> str:
    air = "turn it" if say.turned else "give it air"
    return f"{ASK_MOISTURE} Dripping: mix in dry coarse stuff. Crumbling: wet it. Neither: {air} and add fresh greens."


def _turning(_: Phrases) -> str:
    dry = "Crumbling: wet it, upwind of dust and mold."
    return f"Turn the outside in and log it. {ASK_MOISTURE} Dripping: mix in dry coarse stuff. {dry}"


def _cold_corner(_: Phrases) -> str:
    return "Turn the outside in, all probes out first, and log it. Stay upwind of dust and mold if it is dry."


def _hot(say: Phrases) -> str:
    if say.turned:
        return f"Take all probes out, then turn and wet it within a day. {UPWIND}"
    return "Wet it within a day, slowly, so that the water reaches the middle."


def _too_hot(_: Phrases) -> str:
    return (
        "Feel whether it is dry and wet it. Have water ready before opening it, and stay upwind of dust and "
        "mold. At smoke or a burnt smell: keep off, do not dig or turn, call the fire service."
    )


def _fire(say: Phrases) -> str:
    doubt = " The probe may be failing; act as if it were true." if say.facts.extra.get("unsure") else ""
    return (
        "Keep people off. At smoke or a burnt smell call the fire service and do not dig or turn it: air feeds it. "
        f"No smoke: have water ready and watch it from upwind until it is well below the limit.{doubt}"
    )


def _lost(_: Phrases) -> str:
    return f"Look at it now. {IF_SMOKE} No smoke: measure by hand, put in another probe."


def _look(_: Phrases) -> str:
    return f"Look at this probe now and measure beside it by hand. {IF_SMOKE}"


def _silent(say: Phrases) -> str:
    place = "the bin" if say.is_bin else "the pile"
    return f"Check its battery, cable and radio. Until it is back, measure {place} by hand."


def _broken(_: Phrases) -> str:
    return "Check its cable and seat; swap the probe if that does not help. Until then measure by hand."


def _clock(say: Phrases) -> str:
    if say.facts.probe:
        return "Set the clock of its node; what it sends from the future is put aside and counts for nothing."
    if say.facts.extra.get("variant") == "record":
        return (
            "Look at the yard yourself until the time has caught up: no message is repeated and no silence is noticed."
        )
    if say.facts.extra.get("variant") == "nodes":
        return "Set the computer's clock and check its network time; until then the yard is judged by the probes' time."
    return "Set the computer's clock and check its network time; until it is right, times here may be wrong."


def _link(say: Phrases) -> str:
    if say.facts.extra.get("what") == "channel":
        return "Check its account and the network; until then look at the page, since messages may not reach you."
    if say.facts.extra.get("what") == "mirror":
        return "Check its server and the network; the record here goes on, and the copy catches up."
    return "Check cable, power and network; it is tried again and again. Until then measure by hand."


def _unwatched(_: Phrases) -> str:
    return "Put a probe in, or read it by hand and log it: until then nothing here rings by itself."


def _disk(_: Phrases) -> str:
    return "Make room on the disk now. Until then readings wait unstored and no alarm is certain: look at the yard yourself."


def _record(_: Phrases) -> str:
    return (
        "Copy the data folder away as it is, then put the newest backup back (heaptender restore BACKUP). "
        "Until then trust no certificate."
    )


def _backup(_: Phrases) -> str:
    return "Check the backup's folder and disk; the record itself goes on, with no fresh copy."


def _page(_: Phrases) -> str:
    return "Free its port or give it another (page.port); messages go on without it."


def fresh_food(say: Phrases) -> str:
    """Return the sentence about a recent feeding, or nothing; it is a possibility, never stated as the cause."""
    fed = say.facts.extra.get("fed_at")
    pile_or_bin = say.settings.bins.get(say.facts.place)
    if not isinstance(fed, int) or pile_or_bin is None:
        return ""
    if 0 <= say.facts.since - fed <= pile_or_bin.thresholds.fresh_food_ms:
        return f" Fed {say.time(fed)}: fresh food may be the cause."
    return ""


def _warm_spot(say: Phrases) -> str:
    other = say.facts.extra.get("other_milli")
    return f" It is {say.number(other)} elsewhere: worms can get away." if isinstance(other, int) else ""


def _overheating(say: Phrases) -> str:
    return f"Shade and air it; do not feed it; lay cool damp bedding on top.{_warm_spot(say)}{fresh_food(say)}"


def _worms_in_danger(say: Phrases) -> str:
    return (
        "Cool it now: move it into shade, open it, take hot food out, lay cool wet bedding and closed bottles of ice "
        f"on top.{_warm_spot(say)}{fresh_food(say)}"
    )


def _freezing(_: Phrases) -> str:
    return "Bring it indoors or wrap it and heap dry bedding on top; do not water or dig it in frost."


def _too_wet(_: Phrases) -> str:
    return "Mix in dry torn paper or leaves, let it drain, and give no water or wet food until it is back."


def _too_dry(_: Phrases) -> str:
    return "Sprinkle water a little at a time, mixing, until a squeezed handful just gives a drop."


def _holding(_: Phrases) -> str:
    return "Leave the probes in and log every turning. Nothing else to do."


def _rule_met(_: Phrases) -> str:
    return "Let it cool and cure. This is time and temperature alone; the rule's other terms are yours to see to."


def _ready(say: Phrases) -> str:
    own = "" if say.facts.extra.get("rule_met") else " Own use only: no rule is met."
    return (
        "Turn and wet it once and see that it stays cool. If there is no ammonia smell, try a handful of worms for "
        f"48 h first. In frost, worms wait.{own}"
    )


def _reheating(_: Phrases) -> str:
    return f"Keep worms out of it. {ASK_MOISTURE} Log what was added or turned, if anything was."


def _suggested(_: Phrases) -> str:
    return "Log it if you turned it. If nobody did, see whether the probes still sit where they belong."


def _probes_out(_: Phrases) -> str:
    return "Put them back, or log them in if they are back: until then nothing counts for the rule."


def _read_late(say: Phrases) -> str:
    if say.is_bin:
        return "Look at it now and read it again; if it is still so warm, shade it and cool it at once."
    return f"Look at it now and read it again. {IF_SMOKE}"


def _apart(_: Phrases) -> str:
    return "Look at the probe: does it sit in the heap or bed, as deep as it should? Check both in melting ice."


def _ended(say: Phrases) -> str:
    if say.facts.extra.get("taken_back"):
        return "Nothing to do: the reading by hand behind it was taken back."
    alarm = say.facts.extra.get("alarm")
    if alarm in ("fire", "too-hot", "hot-and-lost", "look-at-probe"):
        return "Look at it once more in the next hours; heat can come back."
    if alarm in ("worms-in-danger", "overheating", "freezing"):
        return "See how the worms are when you next pass."
    return "Nothing to do now."


ADVICE: dict[str, _Advice] = {
    "stalled": _stalled,
    "cold-corner": _cold_corner,
    "turning-due": _turning,
    "cooled-unmet": _cooled,
    "hot": _hot,
    "too-hot": _too_hot,
    "fire": _fire,
    "hot-and-lost": _lost,
    "look-at-probe": _look,
    "silent": _silent,
    "broken": _broken,
    "clock": _clock,
    "link": _link,
    "unwatched": _unwatched,
    "disk": _disk,
    "record": _record,
    "backup": _backup,
    "page": _page,
    "overheating": _overheating,
    "worms-in-danger": _worms_in_danger,
    "freezing": _freezing,
    "too-wet": _too_wet,
    "too-dry": _too_dry,
    "warm-spot": lambda say: f"Feed the other side and look again tomorrow.{fresh_food(say)}",
    "holding": _holding,
    "rule-met": _rule_met,
    "ready": _ready,
    "reheating": _reheating,
    "suggested-turning": _suggested,
    "probes-out": _probes_out,
    "over": _ended,
    "past": _ended,
    "read-late": _read_late,
    "apart": _apart,
}
"""What to do, by the id of the alarm or notice; lines of the digest ask nothing."""
