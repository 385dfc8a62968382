"""The sentences of a bin's alarms: first what is wrong, then what to do. `texts` has the rules."""

from monitor.model.alarm_kinds import Alarm
from monitor.model.sightings import DEAD
from monitor.notices.facts import Phrases
from monitor.notices.sentences import Sentence, Words, always, plain_head
from monitor.notices.whence import whence


def _worms_in_danger_head(say: Phrases) -> str:
    bed = say.facts.bed
    coolest, hottest = bed.coolest_milli, bed.hottest_milli
    if coolest is None or hottest is None or coolest == hottest:
        return plain_head(say, "WORMS IN DANGER")
    here = "even in its coolest spot" if bed.by_all else "in its hottest spot"
    there = f"hottest {say.number(hottest)}" if bed.by_all else f"coolest {say.number(coolest)}"
    head = f"{say.place}: WORMS IN DANGER, {say.value}{say.returned} {here}"
    return f"{head}, {there}, {say.since}{say.heading}{say.bracketed}"


def _moisture(what: str) -> Sentence:
    def write(say: Phrases) -> str:
        known = say.settings.bins.get(say.facts.place)
        aim = ""
        if known is not None:
            low, high = known.thresholds.aim_low_milli_pct, known.thresholds.aim_high_milli_pct
            aim = f", aim {say.number(low)[:-2]}–{say.number(high)}"
        return f"{say.place}: {what}, {say.value}{say.returned}{aim}, {say.since}{say.heading}{say.bracketed}"

    return write


def _warm_spot(say: Phrases) -> str:
    other = say.facts.other_milli
    if other is None:
        return ""
    if say.facts.bed.coolest_milli == other:
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
    until = f" until it is above {say.exact(known.thresholds.cold_milli_c)}" if known is not None else ""
    warm = "Carry it indoors if two people can, or wrap it and heap dry bedding on top"
    return f"{warm}; do not water or dig it in frost; no food{until}."


def _worms_unwell_head(say: Phrases) -> str:
    seen = "dead worms" if say.facts.variant == DEAD else "worms on the lid"
    return f"{say.place}: {seen} {say.since}"


def _worms_unwell(say: Phrases) -> str:
    more = "take the dead ones out with gloves" if say.facts.variant == DEAD else "a light above keeps them in"
    return (
        "Air it first, with your face away from it. Take out what smells or is hot, let standing water out, lay cool damp "
        f"bedding on one side, and feed nothing; {more}. Look again tomorrow, and log what you see."
    )


def _too_wet(_: Phrases) -> str:
    return (
        "Squeeze a handful to check: a stream means yes. Then lay or mix in dry torn paper or leaves, open the drain, empty "
        "its tray (not onto food plants), and give no water or wet food until it is back."
    )


def _too_dry(_: Phrases) -> str:
    return "Sprinkle water a little at a time, mixing, until a squeezed handful gives two or three drops, no stream."


def _freezing_read(say: Phrases) -> str:
    value = say.facts.value_milli
    return "is below freezing" if value is not None and value < 0 else "is close to freezing"


OUTLIVED = Words(
    advice=always("Check the probe, or log it as out, and until then read by hand: by that reading it is over."),
    act=always("Look at its probe; read it by hand."),
)
"""The words of a bin's alarm that a silent probe's last word holds open while a reading by hand since says otherwise."""

BED_WORDS: dict[str, Words] = {
    Alarm.OVERHEATING: Words(
        advice=_overheating,
        act=always("Shade and air it; do not feed it."),
        deed=always("cool it"),
        read=lambda _: "is too warm",
    ),
    Alarm.WORMS_IN_DANGER: Words(
        head=_worms_in_danger_head,
        advice=_worms_in_danger,
        act=always("Shade it; lay bottles of ice on top."),
        deed=always("cool it"),
        read=lambda _: "puts the worms in danger",
    ),
    Alarm.FREEZING: Words(
        advice=_freezing,
        act=always("Carry it in or wrap it; no food."),
        deed=always("keep it warm"),
        read=_freezing_read,
    ),
    Alarm.WORMS_UNWELL: Words(
        head=_worms_unwell_head,
        advice=_worms_unwell,
        act=always("Air it; take out what smells; no food."),
        deed=always("air it"),
    ),
    Alarm.TOO_WET: Words(
        head=_moisture("too wet"),
        advice=_too_wet,
        act=always("Squeeze to check; then dry paper, no water."),
        deed=always("dry it"),
    ),
    Alarm.TOO_DRY: Words(
        head=_moisture("too dry"),
        advice=_too_dry,
        act=always("Sprinkle water a little at a time."),
        deed=always("wet it"),
    ),
}
