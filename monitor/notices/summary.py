"""The composed texts: the daily digest, *while you were away*, *before you go*.

Rules: open alarms first, the worst at the top, each with how it stands (not seen, seen by whom, put off until when);
then what happened, place by place in the order of the settings, oldest first; a busy place shows its newest lines and
counts the rest. If nothing happened and nothing is open, one sentence says so.
"""

from collections.abc import Iterable
from dataclasses import dataclass

from monitor.model.events import Answer
from monitor.model.times import DAY_MS, HOUR_MS
from monitor.notices.letters import Words
from monitor.notices.localtime import say_date, say_span, say_time
from monitor.notices.names import clean, join_names
from monitor.notices.roster import Roster
from monitor.notices.state import DeskState, Line, Telling

LINES_A_PLACE = 12
"""Most lines of one place in one summary."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ProbeAge:
    """A probe that is watched: its id, its place, and the time of its last reading (UTC ms; None: never heard)."""

    probe: str
    place: str
    last: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class LeavingFacts:
    """What the desk does not know itself for *before you go*."""

    probes: tuple[ProbeAge, ...] = ()


@dataclass(slots=True)
class Summary:
    """Composes summaries in the words and times of the yard; `words` gives fresh ones for what is still open."""

    roster: Roster
    words: Words | None = None

    def digest(self, state: DeskState, since: int, now: int, places: tuple[str, ...]) -> str:
        """Return the digest of [since, now) (UTC ms) for somebody who looks after `places` (empty: all)."""
        return self._composed("Digest of", state, since, now, places)

    def away(self, state: DeskState, since: int, now: int, places: tuple[str, ...]) -> str:
        """Return *while you were away* for [since, now] (UTC ms) and `places` (empty: all)."""
        return self._composed("While you were away:", state, since, now + 1, places)

    def leaving(self, state: DeskState, facts: LeavingFacts, now: int) -> str:
        """Return *before you go* at `now` (UTC ms)."""
        settings = self.roster.settings
        head = f"Before you go, {self._site()}, {say_date(now, self.roster.zone)} {self._time(now, now)}."
        ages: dict[str, list[str]] = {}
        for one in sorted(facts.probes, key=lambda one: (one.place, one.probe)):
            heard = f"{say_span(now - one.last)} ago" if one.last is not None else "never heard"
            ages.setdefault(one.place, []).append(f"{self._probe_name(one.probe)} {heard}")
        watched = [f"- {self._place(place)}: {', '.join(ages[place])}" for place in self._in_order(ages.keys())]
        blind = [place for place in (*settings.piles, *settings.bins) if place not in ages]
        parts = [
            head,
            f"Watched: {self._watched()}, {_count(len(facts.probes), 'probe')}; last readings:",
            *watched,
            *(f"- {self._place(place)}: no probe, nobody watches it but you" for place in blind),
            *self._duty(now),
        ]
        standing = self._standing(state, now, ())
        parts += ["Open now:", *standing] if standing else ["No alarm is open or put off."]
        return "\n".join(parts)

    def _composed(self, title: str, state: DeskState, since: int, now: int, places: tuple[str, ...]) -> str:
        lines = [line for line in state.lines if since <= line.at < now and self._wanted(line.place, places)]
        standing = self._standing(state, now, places)
        start = self._time(since, now)
        if not lines and not standing:
            quiet = f"nothing happened since {start} and no alarm is open"
            return f"{title} {self._site()}: {quiet}; {self._watched()} watched."
        parts = [f"{title} {self._site()}, {say_date(now, self.roster.zone)}, since {start}:"]
        parts += ["Open now:", *standing] if standing else ["No alarm is open."]
        by_place: dict[str, list[Line]] = {}
        for line in lines:
            by_place.setdefault(line.place, []).append(line)
        for place in self._in_order(by_place.keys()):
            name = f"{self._place(place)}: "
            parts.append(name.rstrip())
            mine = by_place[place]
            if len(mine) > LINES_A_PLACE:
                parts.append(f"- {len(mine) - LINES_A_PLACE} earlier lines, see the page")
            parts += [f"- {self._time(line.at, now)} {line.text.removeprefix(name)}" for line in mine[-LINES_A_PLACE:]]
        if not lines:
            parts.append(f"Nothing else happened since {start}.")
        return "\n".join(parts)

    def _standing(self, state: DeskState, now: int, places: tuple[str, ...]) -> list[str]:
        tellings = [
            (key, one) for key, one in state.tellings.items() if one.standing and self._wanted(one.place, places)
        ]
        tellings.sort(key=lambda pair: (-pair[1].priority, pair[1].since))
        shut = [one for _, one in sorted(state.out_of_service.items()) if self._wanted(one.place, places)]
        return [f"- {self._now(key, one, now)}; {self._stand(one, now)}" for key, one in tellings] + [
            f"- out of service{_by(one.by)} since {self._time(one.at, now)}: {one.short}" for one in shut
        ]

    def _now(self, key: str, telling: Telling, now: int) -> str:
        fresh = self.words(key, now) if self.words is not None else None
        return telling.short if fresh is None else fresh.short

    def _stand(self, telling: Telling, now: int) -> str:
        if telling.answer is Answer.PUT_OFF:
            until = f" until {self._time(telling.until, now)}" if telling.until is not None else ""
            return f"put off{until}{_by(telling.answered_by)}"
        if telling.answer is Answer.SEEN:
            return f"seen{_by(telling.answered_by)}"
        return "nobody has answered"

    def _duty(self, now: int) -> list[str]:
        contacts = self.roster.contacts
        present = self.roster.on_duty_now(now)
        first = join_names([clean(contacts[one].name) for one in self.roster.first("", now)])
        if not present:
            lines = [f"Nobody is on duty now; {first} would be told."]
        else:
            lines = ["On duty now: " + join_names([clean(contacts[one].name) for one in present]) + "."]
        # Duty begins and ends on minutes of the hour; a quarter of an hour is as fine as people plan.
        gap = next(
            (at for at in range(now, now + DAY_MS, HOUR_MS // 4) if present and not self.roster.on_duty_now(at)), None
        )
        if gap is not None:
            lines.append(f"From about {self._time(gap, now)} nobody is on duty for a while; {first} would be told.")
        return lines

    def _wanted(self, place: str, places: tuple[str, ...]) -> bool:
        settings = self.roster.settings
        return not places or place in places or not (place in settings.piles or place in settings.bins)

    def _in_order(self, found: Iterable[str]) -> list[str]:
        order = [*self.roster.settings.piles, *self.roster.settings.bins]
        return sorted(found, key=lambda place: (order.index(place) if place in order else len(order), place))

    def _watched(self) -> str:
        settings = self.roster.settings
        counts = [_count(len(settings.piles), "pile"), _count(len(settings.bins), "bin")]
        return " and ".join(one for one in counts if not one.startswith("0")) or "no place"

    def _place(self, place: str) -> str:
        if place in ("", "ambient"):
            return "The air of the yard" if place else "The yard"
        return clean(self.roster.settings.place_name(place))

    def _probe_name(self, probe: str) -> str:
        known = self.roster.settings.probes.get(probe)
        return clean(known.name if known and known.name else probe)

    def _site(self) -> str:
        return clean(self.roster.settings.site.name)

    def _time(self, at: int, now: int) -> str:
        return say_time(at, now, self.roster.zone)


def _count(number: int, thing: str) -> str:
    return f"{number} {thing}" + ("" if number == 1 else "s")


def _by(name: str) -> str:
    return f" by {clean(name)}" if name else ""
