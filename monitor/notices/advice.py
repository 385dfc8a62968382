"""What to do now: one or a few plain sentences an alarm, the first beginning with a verb.

Rules: from temperature alone no cause is stated, only asked; danger to people comes before the heap; nothing is asked
of a tired person that can wait. Nobody is told to reach into what scalds: 140 °F (60 °C) burns in seconds (from memory).
Turning dry material raises dust and mold, so those texts say to stay upwind. A closed vessel, a shed or a pit can hold gas
that kills without warning (carbon monoxide, carbon dioxide, hydrogen sulfide, ammonia, little oxygen), so whoever is sent
there is told. Local codes and the fire service come before anything said here.
Source: design of this project, section 4 (cautions); water trickled onto a dry hot heap feeds the fire inside (from
memory); the rest is common practice, no published source.
"""

from monitor.model.alarm_kinds import CATALOG, About, Alarm
from monitor.model.settings import AMBIENT
from monitor.model.units import Quantity
from monitor.notices.facts import Phrases
from monitor.notices.heap_advice import HEAP_ADVICE, Advice, ask_moisture, gas_where_hot, if_smoke
from monitor.notices.whence import whence


def _silent(say: Phrases) -> str:
    if say.facts.place in ("", AMBIENT):
        return "Check its battery, cable and radio. Until it is back, the air is judged without it."
    if say.facts.extra.get("empty"):
        return "Check its battery, cable and radio when you next pass. By the log nothing lies here."
    return f"Check its battery, cable and radio. Until it is back, {_by_hand(say)}."


def _broken(say: Phrases) -> str:
    if say.facts.extra.get("empty"):
        return "Check its cable and seat, or swap it, when you next pass. By the log nothing lies here."
    return f"Check its cable and seat; swap the probe if that does not help. Until then {_by_hand(say)}."


def _by_hand(say: Phrases) -> str:
    """Return what stands in for a probe: by hand only temperatures are read, so for moisture a squeezed handful."""
    if say.facts.quantity is Quantity.MOISTURE:
        return "squeeze a handful when you pass"
    return f"measure {'the bin' if say.is_bin else 'the pile'} by hand"


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
    return "Check cable, power and network; it keeps trying. Until then measure by hand."


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


def _warm_spot(say: Phrases) -> str:
    other = say.facts.extra.get("other_milli")
    if not isinstance(other, int):
        return ""
    if say.facts.extra.get("coolest_milli") == other:
        return " Worms can get away to where it is cool."
    return f" It is {say.number(other)} elsewhere: worms can get away."


def _overheating(say: Phrases) -> str:
    return f"Shade and air it; do not feed it; lay cool damp bedding on top.{_warm_spot(say)}{whence(say)}"


def _worms_in_danger(say: Phrases) -> str:
    return (
        "Shade it now (sheet, board; move it if two people can), then open it, take hot food out, lay cool wet bedding and "
        f"closed bottles of ice on top; do not flood it.{_warm_spot(say)}{whence(say)}"
    )


def _freezing(say: Phrases) -> str:
    known = say.settings.bins.get(say.facts.place)
    until = f" until it is above {say.number(known.thresholds.cold_milli_c)}" if known is not None else ""
    warm = "Carry it indoors if two people can, or wrap it and heap dry bedding on top"
    return f"{warm}; do not water or dig it in frost; no food{until}."


def _too_wet(_: Phrases) -> str:
    return (
        "Squeeze a handful to check: a stream means yes. Then lay or mix in dry torn paper or leaves, open the drain, empty "
        "its tray (not onto food plants), and give no water or wet food until it is back."
    )


def _too_dry(_: Phrases) -> str:
    return "Sprinkle water a little at a time, mixing, until a squeezed handful gives two or three drops, no stream."


def _rule_met(_: Phrases) -> str:
    return (
        "Let it cool and cure: clean forks, clean thermometer, nothing raw on top from now on. This is time and temperature "
        "alone; the rule's other terms are for you to see to."
    )


def _ready(say: Phrases) -> str:
    # 120 and 90 days: 7 CFR 205.203(c)(1).
    own = (
        ""
        if say.facts.extra.get("rule_met")
        else " Own use only, no rule is met: use it like raw manure (US organic rule: 120 days before harvest where the crop "
        "touches soil, else 90; your local code may ask for more)."
    )
    no_air = (
        f" No probe tells how warm the air is: judged by {say.limit} alone." if say.facts.extra.get("no_air") else ""
    )
    return (
        "Turn and wet it once and see that it stays cool for 72 h: a heap that only went dry heats again. If there is no "
        f"ammonia smell, try a handful of worms for 48 h first. In frost, worms wait.{no_air}{own}"
    )


def _reheating(say: Phrases) -> str:
    return f"Keep worms out of it. {ask_moisture(say)} Log what was added or turned, if anything was."


def _suggested(_: Phrases) -> str:
    return "Log it if you turned it; if nobody did, see whether the probes still sit where they belong."


def _probes_out(say: Phrases) -> str:
    some = bool(say.facts.extra.get("in"))
    what = "the rule goes by the others alone" if some else "nothing counts for the rule"
    one = len(say.facts.extra.get("out") or ()) == 1
    if say.facts.extra.get("aside"):
        what = f"what {'it shows' if one else 'they show'} is judged by nobody"
    if say.facts.extra.get("shut"):
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
    if say.facts.extra.get("taken_back"):
        return "Nothing to do: the reading by hand behind it was taken back."
    kind = CATALOG.get(str(say.facts.extra.get("alarm")))
    if say.facts.extra.get("moved_to"):
        where = say.other_place(say.facts.extra["moved_to"])
        return f"Look after {where} now: the danger is there until somebody reads it anew."
    if say.facts.extra.get("left"):
        smoke = "" if say.is_bin else f" {if_smoke(say)}{gas_where_hot(say)}"
        return f"Look at it now, read it by hand and log it: nothing measures it any more.{smoke}"
    if kind is not None and kind.shuts:
        return "Look at it once more in the next hours; heat can come back."
    if kind is not None and kind.about is About.BED and kind.quantity is Quantity.TEMPERATURE:
        return "See how the worms are when you next pass."
    return "Nothing to do now."


ADVICE: dict[str, Advice] = {
    **HEAP_ADVICE,
    Alarm.SILENT: _silent,
    Alarm.BROKEN: _broken,
    Alarm.CLOCK: _clock,
    Alarm.LINK: _link,
    Alarm.UNWATCHED: _unwatched,
    Alarm.DISK: _disk,
    Alarm.RECORD: _record,
    Alarm.BACKUP: _backup,
    Alarm.PAGE: _page,
    Alarm.OVERHEATING: _overheating,
    Alarm.WORMS_IN_DANGER: _worms_in_danger,
    Alarm.FREEZING: _freezing,
    Alarm.TOO_WET: _too_wet,
    Alarm.TOO_DRY: _too_dry,
    "warm-spot": lambda say: f"Feed the other side and look again tomorrow.{whence(say)}",
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
