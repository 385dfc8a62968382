"""The composed texts: the daily digest, *while you were away*, *before you go*.

Rules: open alarms come first, the worst at the top, each with its answer (none, seen by whom, put off until when). Then come
the other events, place by place in the order of the settings, oldest first; a busy place shows what stands nowhere else and
the newest alarms, and counts the rest. If nothing happened and nothing is open, one sentence says so. Each text says who
watches which place, and none says that all is well while the state of one place is unknown.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from monitor.model.events import Answer
from monitor.model.natural_order import natural
from monitor.model.settings import AMBIENT, YARD
from monitor.model.times import DAY_MS, HOUR_MS
from monitor.notices.absences import alone_sentences, away_words, left_alone
from monitor.notices.due_lines import NOTHING_DUE, FallingDue, SoonDue, due_lines, nothing_due
from monitor.notices.headlines import and_more, headline
from monitor.notices.instants import said, without_since
from monitor.notices.letters import Words
from monitor.notices.localtime import say_date, say_span, say_time
from monitor.notices.names import clean, join_names
from monitor.notices.roster import Roster
from monitor.notices.state import DeskState, Line, LineKind, Message, Telling
from monitor.notices.watched import (
    By,
    PlaceWatch,
    Watched,
    all_known,
    counted,
    next_round_words,
    read_words,
    unknown_words,
)

ABSENCES_AHEAD_MS = 7 * DAY_MS
"""How far ahead *before you go* tells who will be away."""
DIGEST_OF = "Digest of"
"""What the head of a digest begins with, after the worst open alarm."""
LINES_A_PLACE = 12
"""The most lines of one place in one summary."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ProbeAge:
    """A probe: its id, its place, and the time of its last reading (UTC ms; None: never heard)."""

    probe: str
    place: str
    last: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class LeavingFacts:
    """Facts for *before you go* that the desk itself does not know."""

    probes: tuple[ProbeAge, ...] = ()
    due: FallingDue = NOTHING_DUE


@dataclass(slots=True)
class Summary:
    """Composes summaries in the words and times of the yard.

    Attributes:
        roster: Contacts, names, time zone.
        words: Gives fresh words for an alarm that is still open.
        watched: Gives how each place is watched.
        due: Gives the things that fall due soon, for the digest.
    """

    roster: Roster
    words: Words | None = None
    watched: Watched = tuple
    due: SoonDue = nothing_due

    def digest(self, state: DeskState, since: int, to: int, now: int, places: tuple[str, ...]) -> str:
        """Return the digest for one contact.

        Args:
            state: The desk's memory.
            since: The first instant that the digest covers, UTC ms.
            to: The instant after the last, UTC ms.
            now: When the contact reads it, UTC ms.
            places: The places that the contact looks after; empty: all.
        """
        text = self._composed(DIGEST_OF, state, (since, to), now, places, worst_first=True)
        due = self.due(now)
        mine = replace(due, lines=tuple(one for one in due.lines if self._wanted(one.place, places)))
        # What falls due is no news of the day before, so it stands below all that is; without any it says nothing.
        return "\n".join([text, *(due_lines(mine, self.roster, now, self._place, who=False) if mine.lines else [])])

    def away(self, state: DeskState, since: int, now: int, places: tuple[str, ...]) -> str:
        """Return *while you were away*.

        Args:
            state: The desk's memory.
            since: The first instant that it covers, UTC ms.
            now: The last, when it is read, UTC ms.
            places: The places to tell of; empty: all.
        """
        return self._composed("While you were away:", state, (since, now + 1), now, places)

    def counted(self, now: int, places: tuple[str, ...]) -> str:
        """Return how many of `places` (empty: all) are watched by whom, and which of them nobody knows the state of."""
        return self._counted(self._watches(places), now)

    def _watches(self, places: tuple[str, ...]) -> list[PlaceWatch]:
        return [one for one in self.watched() if self._wanted(one.place, places)]

    def _counted(self, watches: Sequence[PlaceWatch], now: int) -> str:
        text = counted(watches, self._place, lambda at: self._time(at, now))
        lost = [one for one in watches if not one.known and one.by is not By.NOBODY]
        if lost:
            why = [f"{self._place(one.place)}: {unknown_words(one, lambda at: self._time(at, now))}" for one in lost]
            text += f"; not known now ({'; '.join(why)})"
        return text

    def leaving(self, state: DeskState, facts: LeavingFacts, now: int) -> str:
        """Return *before you go*.

        Args:
            state: The desk's memory.
            facts: The probes' last readings, and the things that fall due.
            now: When it is read, UTC ms.
        """
        head = f"Before you go, {self._site()}, {say_date(now, self.roster.zone)} {self._time(now, now)}."
        ages: dict[str, list[str]] = {}
        for one in sorted(facts.probes, key=lambda one: (one.place, one.probe)):
            heard = f"{say_span(now - one.last)} ago" if one.last is not None else "never heard"
            ages.setdefault(one.place, []).append(f"{self._probe_name(one.probe)} {heard}")
        watches = {one.place: one for one in self.watched()}
        lines = [
            f"- {self._place(place)}: {self._watch_words(watches.get(place), ages.get(place, []), now)}"
            for place in sorted(self._in_order({**watches, **ages}), key=self._kind_and_count)
        ]
        standing = self._standing(state, self._open(state, now, ()), (), watches.values(), now)
        watched = _sentence(counted(watches.values(), self._place, lambda at: self._time(at, now)))
        parts = [
            head,
            f"{watched}; last readings:" if lines else f"{watched}.",
            *lines,
            *self._duty(now),
        ]
        parts += (
            ["Open now:", *standing] if standing else [f"No alarm is open or put off{_unless_known(watches.values())}."]
        )
        parts += due_lines(facts.due, self.roster, now, self._place, who=True)
        return "\n".join(parts)

    def _watch_words(self, watch: PlaceWatch | None, ages: list[str], now: int) -> str:
        """Return the ages of a place's probes, how it is watched, and when its next round is due."""
        how = self._how_watched(watch, ages, now)
        if watch is None or watch.rounds is None:
            return how
        return f"{how}; {next_round_words(watch.rounds, now, lambda at: self._time(at, now))}"

    def _how_watched(self, watch: PlaceWatch | None, ages: list[str], now: int) -> str:
        if watch is None or (watch.known and watch.by is By.PROBES):
            return ", ".join(ages)
        if watch.by is By.EMPTY:
            return "; ".join(["empty", *([", ".join(ages)] if ages else [])])
        if watch.by is By.NOBODY:
            return "; ".join([*([", ".join(ages)] if ages else ["no probe"]), "nobody watches it but you"])
        say = lambda at: self._time(at, now)  # noqa: E731
        if watch.known:
            how = f"read by hand, {read_words(watch, '', say).removeprefix(': ')}"
        else:
            how = f"{unknown_words(watch, say)}; nobody knows how it is"
        return "; ".join([*([", ".join(ages)] if ages else []), how])

    def _composed(
        self,
        title: str,
        state: DeskState,
        span: tuple[int, int],
        now: int,
        places: tuple[str, ...],
        *,
        worst_first: bool = False,
    ) -> str:
        """Return a summary; `worst_first` where its first line is a mail's subject."""
        since, to = span
        # An alarm that is still open stands at the top with its beginning; below it would stand twice.
        told = self._open(state, now, places)
        above = {(one.place, one.short) for one, _ in told}
        lines = [
            line
            for line in state.lines
            if since <= line.at < to
            and self._wanted(line.place, places)
            and not (line.kind is LineKind.CAME_ON and (line.place, line.text) in above)
        ]
        watches = self._watches(places)
        standing = self._standing(state, told, places, watches, now)
        start = self._time(since, now)
        calm = f"no alarm is open{_unless_known(watches)}"
        if not lines and not standing:
            return f"{title} {self._site()}: {calm}; nothing to tell since {start}; {self._counted(watches, now)}."
        day = f"{say_date(now, self.roster.zone)}, since {start}"
        if worst_first:
            # A phone shows the first words only, so they tell of the worst.
            worst = self._worst(told, now)
            quiet = f"{len(standing)} muted or out of service" if standing else calm
            parts = [
                f"{worst}. {title} {self._site()}, {day}." if worst else f"{title} {self._site()}: {quiet}; {day}."
            ]
        else:
            parts = [f"{title} {self._site()}, {day}:"]
        parts += ["Open now:", *standing] if standing else [] if worst_first else [f"{_sentence(calm)}."]
        by_place: dict[str, list[Line]] = {}
        for line in lines:
            by_place.setdefault(line.place, []).append(line)
        for place in self._in_order(by_place.keys()):
            name = f"{self._place(place)}: "
            parts.append(name.rstrip())
            mine = _most_telling(by_place[place])
            more = len(by_place[place]) - len(mine)
            if more:
                parts.append(f"- {more} earlier {'line is' if more == 1 else 'lines are'} left out")
            parts += [f"- {self._happened(line, name, now)}" for line in mine]
        if not lines:
            parts.append(f"Nothing else to tell since {start}.")
        parts.append(f"{_sentence(self._counted(watches, now))}.")
        return "\n".join(parts)

    def _happened(self, line: Line, name: str, now: int) -> str:
        text = line.text.removeprefix(name)
        if line.kind is LineKind.OVER:  # its words hold its time already
            return self._said(text, now)
        return f"{self._time(line.at, now)} {self._said(without_since(text, line.at), now)}"

    def _standing(
        self,
        state: DeskState,
        told: list[tuple[Telling, Message]],
        places: tuple[str, ...],
        watches: Iterable[PlaceWatch],
        now: int,
    ) -> list[str]:
        muted = [pair for one in watches for pair in one.muted]
        shut = [one for _, one in sorted(state.out_of_service.items()) if self._wanted(one.place, places)]
        return [
            *(f"- {self._said(message.short, now)}; {self._stand(one, message, now)}" for one, message in told),
            *(f"- {self._said(what, now)}; muted until {self._time(until, now)}" for what, until in muted),
        ] + [
            f"- out of service{_by(one.by)} since {self._time(one.at, now)}: {self._said(one.short, now)}"
            for one in shut
        ]

    def _open(self, state: DeskState, now: int, places: tuple[str, ...]) -> list[tuple[Telling, Message]]:
        """Return the alarms that are on with their words of now, the worst first; words are costly, so each is worded once."""
        found = [(key, one) for key, one in state.tellings.items() if one.standing and self._wanted(one.place, places)]
        ranked = sorted(found, key=lambda pair: (-pair[1].priority, pair[1].since))
        return [(one, self._now(key, one, now)) for key, one in ranked]

    def _worst(self, told: list[tuple[Telling, Message]], now: int) -> str:
        """Return the headline of the worst open alarm, and the number of the others."""
        if not told:
            return ""
        worst, message = told[0]
        place = self._place(worst.place) if worst.place else self._site()
        head = and_more(headline(self._said(message.short, now), place), len(told) - 1)
        return f"{head} open" if len(told) > 1 else f"{head}, open"

    def _now(self, key: str, telling: Telling, now: int) -> Message:
        fresh = self.words(key, now) if self.words is not None else None
        return Message(telling.text, telling.short, act=telling.act) if fresh is None else fresh

    def _said(self, text: str, now: int) -> str:
        return said(text, now, self.roster.zone)

    def _stand(self, telling: Telling, message: Message, now: int) -> str:
        """Return who has it; where nobody has, also what to do."""
        if telling.answer is Answer.PUT_OFF:
            until = f" until {self._time(telling.until, now)}" if telling.until is not None else ""
            return f"put off{until}{_by(telling.answered_by)}"
        if telling.answer is Answer.SEEN:
            return f"{clean(telling.answered_by) if telling.answered_by else 'somebody'} is on it"
        return f"nobody on it yet. {message.act}".rstrip()

    def _duty(self, now: int) -> list[str]:
        contacts = self.roster.contacts
        if not any(one.channels for one in contacts.values()):
            lack = "no contact has a channel" if self.roster.settings.contacts else "no contact is set up"
            return [f"Nobody gets messages: {lack}."]
        present = self.roster.on_duty_now(now)
        first = join_names([clean(contacts[one].name) for one in self.roster.first("", now)])
        if not present:
            lines = [f"Nobody is on duty now; {first} would be told."]
        else:
            lines = ["On duty now: " + join_names([clean(contacts[one].name) for one in present]) + "."]
        ahead = now + ABSENCES_AHEAD_MS
        if away := away_words(self.roster, now, ahead, now):
            lines.append(away)
        lines += alone_sentences(self.roster, now, ahead, now)
        told = [span for spans in left_alone(self.roster, now, ahead).values() for span in spans]
        # Duty begins and ends on minutes of the hour; a quarter of an hour is as fine as people plan.
        gap = next(
            (at for at in range(now, now + DAY_MS, HOUR_MS // 4) if present and not self.roster.on_duty_now(at)), None
        )
        if gap is not None and not any(start <= gap < end for start, end in told):
            lines.append(f"From about {self._time(gap, now)} nobody is on duty for a while; {first} would be told.")
        return lines

    def _wanted(self, place: str, places: tuple[str, ...]) -> bool:
        settings = self.roster.settings
        return not places or place in places or not (place in settings.piles or place in settings.bins)

    def _kind_and_count(self, place: str) -> tuple[bool, bool, list[tuple[int, int, str]]]:
        settings = self.roster.settings
        return place not in settings.piles, place not in settings.bins, natural(place)

    def _in_order(self, found: Iterable[str]) -> list[str]:
        order = [*self.roster.settings.piles, *self.roster.settings.bins]
        return sorted(found, key=lambda place: (order.index(place) if place in order else len(order), place))

    def _place(self, place: str) -> str:
        if place in ("", AMBIENT, YARD):
            return "The air of the yard" if place == AMBIENT else "The yard"
        return clean(self.roster.settings.place_name(place))

    def _probe_name(self, probe: str) -> str:
        known = self.roster.settings.probes.get(probe)
        return clean(known.name if known and known.name else probe)

    def _site(self) -> str:
        return clean(self.roster.settings.site.name)

    def _time(self, at: int, now: int) -> str:
        return say_time(at, now, self.roster.zone)


def _most_telling(lines: list[Line]) -> list[Line]:
    """Return as many lines of a place as a summary shows, in order.

    Alarms that came and went are the first to be left out: each had its message, and a row of silent probes must not push out
    the news that stands nowhere else. Of one kind, the earliest is left out first.
    """
    by_rank = sorted(range(len(lines)), key=lambda i: (lines[i].kind is LineKind.NOTED, i))
    return [lines[i] for i in sorted(by_rank[-LINES_A_PLACE:])]


def _unless_known(watches: Iterable[PlaceWatch]) -> str:
    return "" if all_known(watches) else ", but not everything is known"


def _sentence(words: str) -> str:
    return words[:1].upper() + words[1:]


def _by(name: str) -> str:
    return f" by {clean(name)}" if name else ""
