"""Says how the yard is, from a view of it: as values for programs and as lines for people."""

from typing import Any
from zoneinfo import ZoneInfo

from monitor.alarms import TOLD_AS, AlarmRecord
from monitor.app.console.harmless import harmless
from monitor.app.yard.effect_words import local_time
from monitor.app.yard.yard_view import YardView, heaps_left_behind, left_behind_words
from monitor.engine import heat_status, is_of_another_heap, last_read, progress_now, why_not_held
from monitor.material import HeatStatus
from monitor.model.alarm_kinds import FAULTS, Alarm, alarm_key, alarm_name
from monitor.model.settings import AMBIENT, Settings
from monitor.model.times import DAY_MS, parse_time, show_duration, show_time
from monitor.model.units import plain_number, show_milli, show_temperature
from monitor.model.words import PHASE_SHOWN, AlarmState, Phase
from monitor.model.work import WorkKind
from monitor.notices import all_known, next_round_words, read_words, say_time

_CALM = (AlarmState.NORMAL,)
_DUTY_AHEAD_MS = 7 * DAY_MS


def status_values(view: YardView, now: int) -> dict[str, Any]:
    """Return the status as JSON values; `now` is UTC ms."""
    state = view.engine.state
    return {
        "running": view.pid is not None,
        "pid": view.pid,
        "since": None if view.since is None else show_time(view.since),
        "last": None if view.last is None else show_time(view.last),
        "piles": [_pile(view, place, now) | _read(view, place, now) for place in state.settings.piles],
        "bins": [_bin(view, place, now) | _read(view, place, now) for place in state.settings.bins],
        "left_behind": list(heaps_left_behind(view.engine, state.settings)),
        "probes": [_probe(view, probe, now) for probe in sorted(state.settings.probes)],
        "alarms": [
            {
                "alarm": key,
                "state": record.state.value,
                "told_as": TOLD_AS[record.state].removesuffix(" until"),
                "since": show_time(record.since),
                "until": show_time(record.until) if _is_put_off(record) and record.until is not None else None,
                "values": record.values.plain(),
            }
            for key, record in sorted(state.alarms.items())
            if record.state not in _CALM
        ],
        "watched": [
            {
                "place": one.place,
                "by": one.by.value,
                "known": one.known,
                "last": None if one.last is None else show_time(one.last),
                "who": one.who or None,
            }
            for one in view.engine.watched(now)
        ],
        "nobody_on_duty": view.engine.nobody_on_duty(now, now, now + _DUTY_AHEAD_MS),
        "links": [
            {"name": name, "what": link.what, "up": link.up, "since": show_time(link.since), "why": link.why}
            for name, link in sorted(state.links.items())
        ],
        "set_aside": _set_aside(view),
        "set_aside_newest": _newest_set_aside(view),
        "notices_waiting": view.store.waiting_notices(),
        "readings_waiting": view.store.waiting_readings(),
        "journal_bytes": view.store.path.stat().st_size,
        "faults": view.faults,
    }


def _newest_set_aside(view: YardView) -> dict[str, dict[str, str]]:
    return {
        reason.value: {
            "received": show_time(one.received),
            "source": one.source,
            "detail": one.detail,
            "excerpt": one.excerpt.decode("utf-8", "backslashreplace"),
        }
        for reason, one in view.store.newest_set_aside().items()
    }


def status_lines(view: YardView, now: int) -> list[str]:
    """Return the status as lines for people; `now` is UTC ms."""
    state, values = view.engine.state, status_values(view, now)
    settings = state.settings
    lines = [f"{settings.site.name}: {_daemon_words(view)}."]
    lines += _link_lines(values["links"], settings)
    unit = view.engine.state.settings.site.temperature_unit
    rounds = _rounds_words(view, now)
    lines += [
        f"{_name(view, one['place'])}: {_pile_words(one, unit)}{_read_words(one)}{rounds.get(one['place'], '')}"
        for one in values["piles"]
    ]
    lines += [f"{_name(view, one['place'])}: {_bin_words(one)}.{_read_words(one)}" for one in values["bins"]]
    left = heaps_left_behind(view.engine, settings)
    lines += [f"{pile}: {left_behind_words(pile, built, settings)}." for pile, built in left.items()]
    for probe in values["probes"]:
        where = _name(view, probe["place"]) if probe["place"] else "nowhere"
        lines.append(f"Probe {probe['probe']} in {where}: {probe['words']}.")
    for alarm in values["alarms"]:
        until = f" until {local_time(parse_time(alarm['until']), settings)}" if alarm["until"] else ""
        since = local_time(parse_time(alarm["since"]), settings)
        if alarm["state"] == AlarmState.RETURNED.value:
            lines.append(f"Alarm {alarm['alarm']}: over; it began {since}, and ended before anyone replied.")
        else:
            lines.append(f"Alarm {alarm['alarm']}: {alarm['told_as']}{until}, since {since}.")
    watched = view.engine.watched_words(now)
    known = all_known(view.engine.watched(now))
    if not values["alarms"]:
        lines.append("No alarm." if known else "No alarm, but not everything is known.")
    lines.append(f"{watched[:1].upper()}{watched[1:]}.")
    lines += values["nobody_on_duty"]
    for reason, count in sorted(values["set_aside"].items()):
        newest = values["set_aside_newest"].get(reason)
        example = ""
        if newest is not None:
            when = local_time(parse_time(newest["received"]), settings)
            example = f"; the newest {when} from {harmless(newest['source'])}: {harmless(newest['detail'])}"
        lines.append(f"Set aside, {reason}: {count}{example.removesuffix('.')}.")
    if held := values["readings_waiting"]:
        many = f"{held} readings wait" if held > 1 else "1 reading waits"
        lines.append(f"{many} until it is known what time it is: they come from ahead of this computer's clock.")
    waiting = values["notices_waiting"]
    messages = "1 message waits" if waiting == 1 else f"{waiting} messages wait"
    lines.append(f"{messages} to be sent; the journal has {values['journal_bytes'] / 1e6:.1f} MB.")
    lines += [f"Fault: {fault}." for fault in view.faults]
    return lines


def _link_lines(links: list[dict[str, Any]], settings: Settings) -> list[str]:
    lines: list[str] = []
    for link in links:
        if link["what"] in FAULTS:
            lines += [] if link["up"] else [_fault_words(link, settings)]
            continue
        # A broker that came back may have forgotten messages; that stays worth reading.
        told = not link["up"] or "forgotten" in link["why"]
        why = f" ({link['why']})" if link["why"] and told else ""
        since = local_time(parse_time(link["since"]), settings)
        lines.append(f"Link {link['name']}: {'up' if link['up'] else 'down'} since {since}{why}.")
    return lines


def standing_words(view: YardView) -> str:
    """Return a sentence for texts that speak of "now" while no daemon runs, else ""."""
    if view.pid is not None or view.last is None:
        return ""
    return f"The daemon does not run; this is how things stood {local_time(view.last, view.engine.state.settings)}."


def _fault_words(link: dict[str, Any], settings: Settings) -> str:
    why = f" ({harmless(link['why'])})" if link["why"] else ""
    return f"Fault: {alarm_name(link['what'])}, since {local_time(parse_time(link['since']), settings)}{why}."


def _daemon_words(view: YardView) -> str:
    settings = view.engine.state.settings
    entry = "" if view.last is None else f", last entry {local_time(view.last, settings)}"
    if view.pid is None:
        return f"the daemon does not run{entry}"
    process = f"process {view.pid}, " if view.pid else ""
    since = f" ({process}since {local_time(view.since, settings)})" if view.since is not None else ""
    return f"the daemon runs{since}{entry}"


def _is_put_off(record: AlarmRecord) -> bool:
    return record.state is AlarmState.SHELVED


def _set_aside(view: YardView) -> dict[str, int]:
    counted: dict[str, int] = {}
    for tally in view.store.set_aside():
        counted[tally.reason.value] = counted.get(tally.reason.value, 0) + tally.total
    return counted


def _name(view: YardView, place: str) -> str:
    return "the air" if place == AMBIENT else view.engine.state.settings.place_name(place)


def _pile(view: YardView, place: str, now: int) -> dict[str, Any]:
    state, asked = view.engine.state, _asked(view, place, now)
    batch = state.batches.lying.get(place)
    run = state.runs.get(batch) if batch is not None else None
    if run is None:
        return {"place": place, "batch": None, "phase": "empty", "rule": None, "progress": {}, "asked": asked or None}
    found = progress_now(run)
    progress = found.values if found is not None else {}
    return {
        "place": place,
        "batch": run.batch,
        "built": show_time(run.built),
        "phase": run.walk.shown_phase.value,
        "rule": run.rule_id,
        "rule_state": run.rule.value,
        "heat_status": heat_status(run).value if run.rule_id != "none" else None,
        "progress": dict(progress),
        "alone": view.engine.alone(place) or None,
        **_next_round(view, place),
    }


def _next_round(view: YardView, place: str) -> dict[str, Any]:
    """Return when the next round by hand is due at a heap whose rule is proven by rounds; {} elsewhere."""
    chain = view.engine.state.chains.get(place)
    if chain is None:
        return {}
    return {
        "next_round": {
            "last": show_time(chain.last),
            "due": show_time(chain.due),
            "chain_breaks": show_time(chain.breaks),
        }
    }


def _pile_words(pile: dict[str, Any], unit: str) -> str:
    if pile["batch"] is None:
        return f"{pile['asked'] or 'empty by the log'}."
    parts = [f"{min(done, pile['progress'][f'{what}_needed'])} of {pile['progress'][f'{what}_needed']} {what}"
             for what, done in pile["progress"].items() if f"{what}_needed" in pile["progress"]]  # fmt: skip
    way = pile["progress"].get("at_hold_c")
    at = "" if way is None else f" at {show_temperature(round(way * 1000), unit)}"
    done = f" ({', '.join(parts)}{at}{pile['alone'] or ''})" if parts else ""
    void = ": raw material came in, so all begins anew" if pile["heat_status"] == HeatStatus.VOID else ""
    rule = "no rule" if pile["rule"] == "none" else f"rule {pile['rule']} {pile['rule_state']}{done}{void}"
    phase = PHASE_SHOWN[Phase(pile["phase"])]
    if pile["phase"] == Phase.READY:
        phase += " (turn and wet it once, see that it stays cool for 72 h, try a handful of worms for 48 h)"
    return f"{phase}, batch {pile['batch']}, {rule}."


def _asked(view: YardView, place: str, now: int) -> str:
    """Return the question about a place that is empty by the log but reads warm, without the place's name; else ""."""
    return view.engine.empty_yet_warm(place, now).partition(": ")[2]


def _bin(view: YardView, place: str, now: int) -> dict[str, Any]:
    bed = view.engine.state.bins.get(place)
    thermal, moisture = (one.value for one in view.engine.conditions(place, now))
    if bed is not None and bed.emptied_at is not None:
        emptied = show_time(bed.emptied_at)
        asked = _asked(view, place, now) or None
        return {
            "place": place,
            "thermal": thermal,
            "moisture": moisture,
            WorkKind.EMPTIED.value: emptied,
            "asked": asked,
        }
    return {"place": place, "thermal": thermal, "moisture": moisture, "unwell": _unwell(view, place, now) or None}


def _unwell(view: YardView, place: str, now: int) -> str:
    """Return the sight of worms that suffer, and the advice, without the place's name; "" if they are well."""
    key = alarm_key(place, Alarm.WORMS_UNWELL)
    record = view.engine.state.alarms.get(key)
    told = view.engine.words(key, now) if record is not None and record.on else None
    return "" if told is None else told.text.partition(": ")[2]


def _bin_words(bin_: dict[str, Any]) -> str:
    if "asked" in bin_:
        return str(bin_["asked"] or "empty")
    sensed = f"{bin_['thermal']}, moisture {bin_['moisture']}"
    return f"{sensed}, but {bin_['unwell'].removesuffix('.')}" if bin_["unwell"] else sensed


def _read(view: YardView, place: str, now: int) -> dict[str, Any]:
    """Return the last reading by hand at a place; {} if there is none."""
    state = view.engine.state
    last = last_read(state.hands, place)
    if last is None or is_of_another_heap(last, state.batches, place):
        return {}
    empty = place in state.settings.piles and place not in state.batches.lying
    why_not = "" if last.held else why_not_held(state.hands, place, now, empty=empty)
    words = read_words(
        state.settings, place, (last.low, last.high), last.spots, last.by, now - last.time, why_not=why_not
    )
    told = {
        "time": show_time(last.time),
        "coldest": plain_number(last.low),
        "hottest": plain_number(last.high),
        "spots": last.spots,
        "by": last.by,
        "counts": last.held,
        "words": words,
    }
    return {"by_hand": told, "apart": view.engine.apart(place, now).partition(": ")[2] or None}


def _read_words(place: dict[str, Any]) -> str:
    if "by_hand" not in place:
        return ""
    return f" Last read {place['by_hand']['words']}.{f' {apart}.' if (apart := place['apart']) else ''}"


def _rounds_words(view: YardView, now: int) -> dict[str, str]:
    """Return, for each pile whose rule is proven by rounds, when the next one is due or since when their chain is broken."""
    zone = ZoneInfo(view.engine.state.settings.site.time_zone)
    found = {
        one.place: next_round_words(one.rounds, now, lambda at: say_time(at, now, zone))
        for one in view.engine.watched(now)
        if one.rounds is not None
    }
    return {place: f" {words[:1].upper()}{words[1:]}." for place, words in found.items()}


def _probe(view: YardView, probe: str, now: int) -> dict[str, Any]:
    state = view.engine.state
    configured, watch = state.settings.probes[probe], state.watches.get(probe)
    carried = [one for one in state.carried if one.probe == probe]
    place = carried[-1].place if carried else configured.place
    found: dict[str, Any] = {"probe": probe, "place": place, "value": None, "last": None, "words": "never heard"}
    if watch is None or watch.newest is None:
        return found
    found["last"] = show_time(watch.newest)
    words = f"last reading {show_duration(max(0, now - watch.newest))} ago"
    if watch.accepted_milli is not None:
        found["value"] = plain_number(watch.accepted_milli)
        shown = show_milli(watch.accepted_milli, configured.quantity, state.settings.site.temperature_unit)
        words = f"{shown}, {words}"
    outing, speaking = state.outings.get(probe), view.engine.speaks(probe, now)
    silent = watch.silent or (watch.accepted_time is not None and not (watch.broken or watch.lost) and not speaking)
    for true, word in ((silent, "silent"), (watch.broken, "broken"), (watch.lost, "hot and lost"),
                       (outing is not None and outing.out is not None, "out")):  # fmt: skip
        if true:
            words += f", {word}"
    found["words"] = words
    return found
