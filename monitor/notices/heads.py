"""The first sentence of every alarm, notice and line of the digest: place, what is wrong, number and limit, since when.

The rules are those of `texts`.
"""

from collections.abc import Callable

from monitor.model.alarm_kinds import CATALOG, Alarm, Side
from monitor.model.readings import is_hand
from monitor.model.times import show_duration
from monitor.notices.facts import Phrases
from monitor.notices.localtime import say_span
from monitor.notices.names import join_names

Head = Callable[[Phrases], str]


def plain_head(say: Phrases, what: str, word: str = "limit") -> str:
    """Return the usual sentence: place, what is wrong, number and limit, probe, since when, heading."""
    number = f", {say.value}{say.beside(word)}" if say.facts.value_milli is not None else ""
    return f"{say.place}: {what}{number}{say.at_probe} {say.since}{say.heading}"


def _needs(say: Phrases, what: str) -> str:
    number = f", hottest {say.value}{say.beside('needs')}" if say.facts.value_milli is not None else ""
    return f"{say.place}: {what}{number} {say.since}{say.heading}"


def _progress(say: Phrases) -> str:
    parts = []
    for key in ("days", "turnings"):
        done, wanted = say.count(key), say.count(f"{key}_needed")
        if done is not None and wanted is not None:
            parts.append(f"{done} of {wanted} {key}")
    way = say.facts.extra.get("at_hold_c")
    at = f" at {say.number(round(way * 1000))}" if parts and isinstance(way, int | float) else ""
    return ", ".join(parts) + at


def _left(say: Phrases) -> str:
    """Return `: 3 days and 2 turnings left`, or nothing."""
    parts = []
    for key, thing in (("days", "day"), ("turnings", "turning")):
        done, wanted = say.facts.extra.get(key), say.facts.extra.get(f"{key}_needed")
        if isinstance(done, int) and isinstance(wanted, int) and wanted > done:
            parts.append(f"{wanted - done} {thing}{'s' if wanted - done > 1 else ''}")
    return f" ({' and '.join(parts)} left)" if parts else ""


def _stalled(say: Phrases) -> str:
    never_held = say.facts.extra.get("variant") == "no-hold"
    return _needs(say, "not up to temperature yet" if never_held else "not heating up")


def _cold_corner(say: Phrases) -> str:
    other = say.facts.extra.get("other_milli")
    hottest = f", hottest {say.number(other)}" if isinstance(other, int) else ""
    return f"{say.place}: cold corner{say.at_probe}, {say.value}{say.beside('needs')}{hottest} {say.since}{say.heading}"


def _turning_due(say: Phrases) -> str:
    if say.facts.extra.get("variant") == "cooled":
        done = _progress(say) + _left(say)
        by_hand = f" by hand at {read}," if (read := say.extra_time("read_at")) else ""
        hottest = f"hottest {say.value}{say.beside('needs')}{by_hand} {say.since}{say.heading}"
        why = f"has gone cold before {_unmet(say)}, {hottest}"
        return f"{_probes_first(say)}{say.place} {why}" + (f", {done}" if done else "") + say.alone
    last = say.extra_time("last_turned")
    now = "now" if say.stale is None else f"at {say.time(say.stale)}, silent since"
    if read := say.extra_time("read_at"):
        now = f"by hand at {read}"
    number = f", {say.value} {now}{say.beside('needs')}" if say.facts.value_milli is not None else ""
    done = _progress(say) + _left(say)
    parts = [f"last turned {last}" if last else "not turned yet", *([done] if done else [])]
    return (
        f"{_probes_first(say)}{say.place} has been due for turning {say.since}, {', '.join(parts)}{number}{say.alone}"
    )


def _probes_first(say: Phrases) -> str:
    # Where it is read by hand there is none to take out.
    return "" if say.extra_time("read_at") else "Take all probes out first: "


def _round_due(say: Phrases) -> str:
    last, due, breaks = (say.extra_time(key) for key in ("read_at", "due_at", "breaks_at"))
    if last is None or due is None or breaks is None:
        return f"{say.place}: a round by hand is missed {say.since}"
    variant = say.facts.extra.get("variant")
    if variant == "broken":
        return f"{say.place}: its chain of rounds is broken since {last}, the last round; the next one had to come by {breaks}"
    if variant == "early":
        return f"{say.place}: its next round by hand is due by {due}, last read {last}"
    return f"{say.place}: a round is missed, due by {due}, last read by hand {last}"


def _cooled_unmet(say: Phrases) -> str:
    done = _progress(say) + _left(say)
    return _needs(say, f"cooled before {_unmet(say)}") + (f", {done}" if done else "") + say.alone


def _unmet(say: Phrases) -> str:
    ruled = say.facts.extra.get("rule") not in (None, "", "none")
    return "its rule was met" if ruled else "it held long enough"


def _heat(what: str) -> Head:
    def write(say: Phrases) -> str:
        if say.turned_at is None:
            return plain_head(say, what)
        read = f"{say.value}{say.beside()}{say.at_probe} at {say.extra_time('read_at')}"
        return f"{say.place}: {what} when last read, {read}; turned at {say.time(say.turned_at)} and not read since"

    return write


def _fire(say: Phrases) -> str:
    return f"FIRE DANGER at {say.place}: {say.value}{say.beside()}"


def _lost(say: Phrases) -> str:
    return (
        f"{say.place}: {say.probe} stopped at {say.value}{say.beside('watched from')}, silent {say.since} "
        "while its node still sends"
    )


def _look(say: Phrases) -> str:
    doubt = "perhaps a bad probe, perhaps fire"
    return f"{say.place}: {say.probe} has shown {say.value}{say.beside('fire limit')} {say.since}: {doubt}"


def _quiet_probe(say: Phrases, what: str, last: str) -> str:
    number = f", {last} {say.value}" if say.facts.value_milli is not None else ""
    return f"{say.place}: {what} {say.since}{number}"


def _clock(say: Phrases) -> str:
    by = say.facts.extra.get("by_ms")
    off = f" by {say_span(abs(by))}" if isinstance(by, int) else ""
    limit = say.facts.extra.get("limit_ms")
    bound = f" (limit {show_duration(limit)})" if isinstance(limit, int) else ""
    if say.facts.probe:
        far = f" {say_span(abs(by))}" if isinstance(by, int) else ""
        return f"{say.place}: the clock of {say.probe} has been{far} ahead{bound} {say.since}"
    way = " back" if isinstance(by, int) and by < 0 else ""
    if say.facts.extra.get("variant") == "record" and isinstance(by, int):
        return f"{say.place}: the record is {say_span(abs(by))} ahead of the time because the clock was wrong before"
    if say.facts.extra.get("variant") == "nodes" and isinstance(by, int):
        side = "behind" if by > 0 else "ahead of"
        return f"{say.place}: the computer's clock is {say_span(abs(by))} {side} the probes' clocks"
    return f"{say.place}: the computer's clock jumped{way}{off}{bound} at {say.time(say.facts.since)}"


def _link(say: Phrases) -> str:
    name = say.word("name") or "a link"
    why = f" ({say.word('why')})" if say.word("why") else ""
    if say.facts.extra.get("what") == "channel":
        return f"{say.place}: messages by {name} have not come through {say.since}{why}"
    if say.facts.extra.get("what") == "mirror":
        return f"{say.place}: the copy to {name} has not come through {say.since}{why}"
    return f"{say.place}: nothing has come from {name} {say.since}{why}"


def _worms_in_danger(say: Phrases) -> str:
    coolest, hottest = say.facts.extra.get("coolest_milli"), say.facts.extra.get("hottest_milli")
    if not isinstance(coolest, int) or not isinstance(hottest, int) or coolest == hottest:
        return plain_head(say, "WORMS IN DANGER")
    by_all = say.facts.extra.get("by") == "all"
    here = "even its coolest spot" if by_all else "its hottest spot"
    there = f"hottest {say.number(hottest)}" if by_all else f"coolest {say.number(coolest)}"
    head = f"{say.place}: WORMS IN DANGER, {here} {say.value}{say.beside()}{say.at_probe}"
    return f"{head}, {there}, {say.since}{say.heading}"


def _fault(what: str) -> Head:
    def write(say: Phrases) -> str:
        why = f" ({say.reason})" if say.reason else ""
        return f"{say.place}: {what} {say.since}{why}"

    return write


def _unwatched(say: Phrases) -> str:
    return f"{say.place}: no thermometer has watched it {say.since}, when {say.probe} was taken away"


def _too_dry(say: Phrases) -> str:
    known = say.settings.bins.get(say.facts.place)
    aim = ""
    if known is not None:
        low, high = known.thresholds.aim_low_milli_pct, known.thresholds.aim_high_milli_pct
        aim = f", aim {say.number(low)[:-2]}–{say.number(high)}"
    return f"{say.place}: too dry, {say.value}{say.beside(more=aim)}{say.at_probe} {say.since}"


def _rule_met(say: Phrases) -> str:
    done = _progress(say)
    rule = f" {say.word('rule')}" if say.word("rule") else ""
    return f"{say.place}: its rule{rule} has been met {say.since}" + (f", {done}" if done else "") + say.alone


def _reheating(say: Phrases) -> str:
    rise = say.facts.extra.get("rise_milli")
    up = f", up {say.difference(rise)}" if isinstance(rise, int) else ""
    return (
        f"{say.place}: heating up again, hottest {say.value}{say.beside('watched from')}{up} {say.since}{say.heading}"
    )


def _suggested(say: Phrases) -> str:
    number = f"; hottest {say.value} now" if say.facts.value_milli is not None else ""
    when = say.time(say.facts.since)
    return f"{say.place} looks as if it was turned at about {when}, but nobody has logged it{number}"


def _probes_out(say: Phrases) -> str:
    out, rest = say.facts.extra.get("out") or (), say.facts.extra.get("in") or ()
    which = join_names(say.names(out)) if out else "probes"
    back = f"; {join_names(say.names(rest))} {'is' if len(rest) == 1 else 'are'} in" if rest else ""
    has = "has" if len(out) == 1 else "have"
    return f"{say.place}: {which} {has} been outside {say.since}{back}"


def _named(say: Phrases) -> str:
    alarm = str(say.facts.extra.get("alarm", ""))
    probe = f" ({say.probe})" if say.facts.probe and alarm in CATALOG and CATALOG[alarm].of_probe else ""
    return (CATALOG[alarm].name if alarm in CATALOG else "trouble") + probe


def _read_late(say: Phrases) -> str:
    where = say.hand(say.facts.probe)
    return (
        f"{say.place}: {say.value} was read by hand{where} at {say.time(say.facts.since)}, {_named(say)}{say.beside()}; "
        "it was logged only now"
    )


def _apart(say: Phrases) -> str:
    by_hand = say.facts.extra.get("hand_milli")
    where = say.hand(say.facts.extra.get("series"))
    read = say.number(by_hand if isinstance(by_hand, int) else None)
    return f"{say.place}: {read} by hand{where} at {say.time(say.facts.since)}, but {say.probe} shows {say.value}"


def _over(say: Phrases) -> str:
    if say.facts.extra.get("taken_back"):
        return f"{say.place}: taken back, mistyped: {_named(say)} {say.since}"
    last = f", last {say.value}{say.beside()}" if say.facts.value_milli is not None else ""
    if say.facts.extra.get("moved_to"):
        where = say.other_place(say.facts.extra["moved_to"])
        return f"{say.place}: {_named(say)} {say.since}{last}, went with the heap to {where}"
    if say.facts.extra.get("left"):
        gone = say.names([str(say.facts.extra["left"])])[0]
        return f"{say.place}: not known to be over: {_named(say)} {say.since}{last}; {gone} was taken away"
    until = say.extra_time("until") or say.time(say.facts.now)
    now = f", now {say.value}{say.beside()}" if say.facts.value_milli is not None else ""
    return f"{say.place}: {_named(say)}, over since {until} (it began {say.time(say.facts.since)}){now}"


def _sinks(alarm: object) -> bool:
    """Tell whether an alarm is the worse, the less its number is."""
    return alarm in CATALOG and CATALOG[str(alarm)].side is Side.BELOW


def _past(say: Phrases) -> str:
    until = say.extra_time("until")
    span = f"from {say.time(say.facts.since)}" + (f" to {until}" if until else "")
    went = "down to" if _sinks(say.facts.extra.get("alarm")) else "up to"
    worst = f", {went} {say.value}{say.beside()}" if say.facts.value_milli is not None else ""
    return f"{say.place}: over already: {_named(say)} {span}{worst}{say.at_probe}"


def _holding(say: Phrases) -> str:
    coldest = f", coldest {say.value}{say.beside('needs')}" if say.facts.value_milli is not None else ""
    return f"{say.place}: at temperature throughout{coldest}{say.at_probe} {say.since}{say.heading}"


def _empty_yet_warm(say: Phrases) -> str:
    what = "what was put in (bedded, fed)" if say.is_bin else "the heap as built"
    if is_hand(say.facts.probe):
        return (
            f"{say.place}: empty by the log, but {say.value} was read {say.probe}: log {what}, or take the reading back"
        )
    return f"{say.place}: empty by the log, but {say.probe} reads {say.value}: log {what}, or the probe as taken out"


def _flat(say: Phrases) -> str:
    return f"{say.place}: {say.probe} has shown exactly {say.value} {say.since}"


HEADS: dict[str, Head] = {
    Alarm.STALLED: _stalled,
    Alarm.COLD_CORNER: _cold_corner,
    Alarm.TURNING_DUE: _turning_due,
    Alarm.ROUND_DUE: _round_due,
    Alarm.COOLED_UNMET: _cooled_unmet,
    Alarm.HOT: _heat("hot"),
    Alarm.TOO_HOT: _heat("too hot"),
    Alarm.FIRE: _fire,
    Alarm.HOT_AND_LOST: _lost,
    Alarm.LOOK_AT_PROBE: _look,
    Alarm.SILENT: lambda say: _quiet_probe(say, f"no word from {say.probe}", "last reading"),
    Alarm.BROKEN: lambda say: _quiet_probe(say, f"nothing usable from {say.probe}", "last good reading"),
    Alarm.CLOCK: _clock,
    Alarm.LINK: _link,
    Alarm.UNWATCHED: _unwatched,
    Alarm.DISK: _fault("nothing has been stored"),
    Alarm.RECORD: _fault("the record is damaged, known"),
    Alarm.BACKUP: _fault("the backup has been failing"),
    Alarm.PAGE: _fault("the page has been away"),
    Alarm.WORMS_IN_DANGER: _worms_in_danger,
    Alarm.TOO_DRY: _too_dry,
    "rule-met": _rule_met,
    "ready": lambda say: plain_head(say, "cool enough for worms"),
    "reheating": _reheating,
    "suggested-turning": _suggested,
    "probes-out": _probes_out,
    "over": _over,
    "past": _past,
    "read-late": _read_late,
    "apart": _apart,
    "warm-spot": lambda say: plain_head(say, "warm spot"),
    # Lines of the digest.
    "holding": _holding,
    "cool": lambda say: f"{plain_head(say, 'cool', 'comfort from')}; feed half as much",
    "cold": lambda say: (
        f"{plain_head(say, 'cold', 'cold below')}; give no wet food: it would lie there and heat up in spring"
    ),
    "warm": lambda say: plain_head(say, "warm", "comfort up to"),
    "pile-too-dry": lambda say: plain_head(say, "dry", "line at"),
    "pile-too-wet": lambda say: plain_head(say, "wet", "line at"),
    "oxygen": lambda say: plain_head(say, "oxygen low", "line at"),
    "flat-line": _flat,
    "unread": lambda say: f"{say.place}: nobody has read it {say.since}",
    "empty-yet-warm": _empty_yet_warm,
}
