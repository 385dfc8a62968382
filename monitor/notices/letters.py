"""Drafts of messages, written from slips: one thing in full, or several as one message, the worst first."""

from collections.abc import Callable
from dataclasses import dataclass, replace

from monitor.model.effects import Draft, EffectKind, Occasion
from monitor.model.notice_values import NoticeValues
from monitor.model.words import Priority
from monitor.notices.headlines import and_more, headline
from monitor.notices.instants import mark, said
from monitor.notices.localtime import say_span, say_time
from monitor.notices.names import clean, join_names
from monitor.notices.roster import Roster
from monitor.notices.state import Digest, Message, NoticeReason, Slip, Telling
from monitor.notices.trays import Parcel

Words = Callable[[str, int], Message | None]
"""Returns, for a key and an instant (UTC ms), fresh words of an alarm that is still on, or None to keep the old words."""

GROUP_LINES = 20
"""The most lines of a group message; the rest is counted (a phone shows no more, and the digest has them all)."""

_WHY = {
    NoticeReason.CAME_ON: "It is new.",
    NoticeReason.STILL_ON: "It is still on and nobody has answered.",
    NoticeReason.PUT_OFF_ENDED: "It was put off until now and is still on.",
    NoticeReason.TAKEN_UP: "It was taken up again.",
    NoticeReason.MORE_URGENT: "It has become more urgent.",
    NoticeReason.UNANSWERED: "Those told before have not answered.",
    NoticeReason.TAKEN_OVER: "The one told before is off duty.",
    NoticeReason.OVER: "It was urgent, was told, and is over.",
}


_KNOWN_TO_READER = frozenset({NoticeReason.STILL_ON, NoticeReason.PUT_OFF_ENDED, NoticeReason.TAKEN_UP})
"""Why a message comes that its reader has had in full before."""


@dataclass(slots=True)
class Letters:
    """Writes drafts of notices."""

    roster: Roster
    words: Words | None = None

    def write(self, parcel: Parcel, tellings: dict[str, Telling], at: int) -> Draft:
        """Return the draft of one message to one contact.

        Args:
            parcel: The contact and the slips to write about.
            tellings: The desk's tellings, by key.
            at: When it goes out, UTC ms.
        """
        pairs = [(slip, tellings[slip.key]) for slip in parcel.slips]
        # Worst first, ends last; among equals the older cause first, so that the order never depends on arrival.
        pairs.sort(key=lambda pair: (pair[1].ended is not None, -pair[1].priority, pair[1].since, pair[0].key))
        if len(pairs) == 1:
            return self._single(parcel.contact, *pairs[0], at)
        return self._group(parcel.contact, pairs, at)

    def plain(self, contact: str, occasion: Occasion, reason: NoticeReason, text: str, since: int, why: str) -> Draft:
        """Return the draft of a message about the yard as a whole (digest, test).

        Args:
            contact: Who gets it.
            occasion: The effect's axis.
            reason: Why it goes out, for programs.
            text: The message.
            since: From when on it tells, UTC ms.
            why: Why it goes out, as a sentence for people.
        """
        return Draft(
            place="",
            kind=EffectKind.NOTICE,
            axis=occasion,
            before=None,
            after=contact,
            why=why,
            since=since,
            reason=reason,
            values=NoticeValues(priority=Priority.LOW, channels=self._channels(contact)).plain(),
            text=text,
        )

    def digest(self, digest: Digest, slips: tuple[Slip, ...], tellings: dict[str, Telling], at: int) -> Draft:
        """Return the draft of a digest; what its reader had not been told yet stands below it in full, with its cautions.

        Args:
            digest: The digest, which tells of everything that the slips are about.
            slips: What goes with it instead of as a message of its own.
            tellings: The desk's tellings, by key.
            at: When it goes out, UTC ms.
        """
        why = "It is sent every day."
        if slips:
            why = f"{why} It goes with {len(slips)} notice{'s' if len(slips) > 1 else ''} of the same hour."
        plain = self.plain(digest.contact, Occasion.DIGEST, NoticeReason.DAILY, digest.text, digest.since, why)
        pairs = [(slip, tellings[slip.key]) for slip in slips]
        if not pairs:
            return plain
        values = NoticeValues(
            priority=max(_rank(telling) for _, telling in pairs),
            keys=tuple(_key(slip, telling) for slip, telling in pairs),
            channels=self._channels(digest.contact),
            alarms=tuple(telling.alarm for _, telling in pairs),
        )
        new = [pair for pair in pairs if pair[0].reason not in _KNOWN_TO_READER and pair[1].ended is None]
        whole = [f"- {said(self._current(*pair, at).text, at, self.roster.zone)}" for pair in new]
        text = "\n".join([digest.text, *(["New, in full:", *whole] if whole else [])])
        return replace(plain, values=values.plain(), text=text)

    def ended(self, telling: Telling, at: int) -> Message:
        """Return words for the end of an alarm at `at` (UTC ms), made from its one-line form."""
        settings = self.roster.settings
        name = clean(settings.place_name(telling.place) if telling.place else settings.site.name)
        end = f"over since {mark(at)}"
        short = f"{name}: {end}: {telling.short.removeprefix(f'{name}: ')}"
        return Message(f"{short}.", short)

    def _channels(self, contact: str) -> tuple[str, ...]:
        return tuple(self.roster.contacts[contact].channels)

    def _current(self, slip: Slip, telling: Telling, at: int) -> Message:
        fresh = self.words(slip.key, at) if self.words is not None and telling.standing else None
        return fresh or Message(telling.text, telling.short, act=telling.act)

    def _single(self, contact: str, slip: Slip, telling: Telling, at: int) -> Draft:
        key = _key(slip, telling)
        values = NoticeValues(
            priority=_rank(telling),
            keys=(key,),
            channels=self._channels(contact),
            alarm=telling.alarm,
            batch=telling.batch,
        )
        return Draft(
            place=telling.place,
            kind=EffectKind.NOTICE,
            axis=slip.occasion,
            before=None,
            after=contact,
            why=_WHY[slip.reason],
            since=telling.since,
            reason=slip.reason,
            probe=_probe(key),
            values=values.plain(),
            text=self._text(slip, telling, at),
        )

    def _group(self, contact: str, pairs: list[tuple[Slip, Telling]], at: int) -> Draft:
        places = sorted({telling.place for _, telling in pairs})
        worst = max((telling for _, telling in pairs if telling.ended is None), key=lambda t: t.priority, default=None)
        return Draft(
            place=places[0] if len(places) == 1 else "",
            kind=EffectKind.NOTICE,
            axis=Occasion.GROUP,
            before=None,
            after=contact,
            why=f"{len(pairs)} notices to one contact go as one message.",
            since=min(telling.since for _, telling in pairs),
            reason=NoticeReason.GATHERED,
            values=NoticeValues(
                priority=_rank(worst) if worst is not None else Priority.LOW,
                keys=tuple(_key(slip, telling) for slip, telling in pairs),
                channels=self._channels(contact),
                alarms=tuple(telling.alarm for _, telling in pairs),
            ).plain(),
            text=self._group_text(pairs, at),
        )

    def _group_text(self, pairs: list[tuple[Slip, Telling]], at: int) -> str:
        # A phone shows the first line only, so it holds the worst thing instead of a count.
        head = f"{and_more(self._headline(*pairs[0], at), len(pairs) - 1)}."
        lines = [self._line(slip, telling, at) for slip, telling in pairs[:GROUP_LINES]]
        if len(pairs) > GROUP_LINES:
            lines.append(f"… and {len(pairs) - GROUP_LINES} more.")
        return "\n".join([head, *(f"{number}. {line}" for number, line in enumerate(lines, 1))])

    def _headline(self, slip: Slip, telling: Telling, at: int) -> str:
        settings = self.roster.settings
        place = clean(settings.place_name(telling.place) if telling.place else settings.site.name)
        if slip.reason is NoticeReason.OVER:
            return headline(telling.over_short, place)
        message = self._current(slip, telling, at)
        over = ", over" if telling.ended is not None else "" if message.known else ", not known to be over"
        return f"{headline(said(message.short, at, self.roster.zone), place)}{over}"

    def _line(self, slip: Slip, telling: Telling, at: int) -> str:
        return said(self._line_kept(slip, telling, at), at, self.roster.zone)

    def _line_kept(self, slip: Slip, telling: Telling, at: int) -> str:
        if slip.reason is NoticeReason.OVER:
            return telling.over_short
        message = self._current(slip, telling, at)
        if telling.ended is not None:
            return f"{message.short} (over since {say_time(telling.ended, at, self.roster.zone)})"
        if slip.occasion is Occasion.REPEAT:
            return f"{message.brief} ({'Still on.' if message.known else 'Not known to be over.'})"
        # An urgent alarm tells its reader everything the first time, in a group message too; so does what is told only once.
        whole = telling.priority >= Priority.HIGH or telling.one_time
        line = message.text if whole else message.brief
        return line + (self._taken(telling, at) if slip.occasion is Occasion.NEW else " (Over to you.)")

    def _text(self, slip: Slip, telling: Telling, at: int) -> str:
        return said(self._text_kept(slip, telling, at), at, self.roster.zone)

    def _text_kept(self, slip: Slip, telling: Telling, at: int) -> str:
        if slip.reason is NoticeReason.OVER:
            return telling.over_text
        message = self._current(slip, telling, at)
        if telling.ended is not None:
            return f"{message.short}. Over since {say_time(telling.ended, at, self.roster.zone)}."
        # The first words belong to the place and its trouble; why the message comes stands at the end.
        text = message.brief if slip.reason in _KNOWN_TO_READER else message.text
        return text + self._why(slip, telling, message, at) + self._taken(telling, at)

    def _why(self, slip: Slip, telling: Telling, message: Message, at: int) -> str:
        still = "Still on" if message.known else "Not known to be over"
        why = {
            NoticeReason.STILL_ON: f"{still} after {say_span(at - telling.since)}; nobody on it yet",
            NoticeReason.PUT_OFF_ENDED: f"Put off until now; {still[:1].lower()}{still[1:]}",
            NoticeReason.TAKEN_UP: "Open again",
            NoticeReason.MORE_URGENT: "More urgent now",
            NoticeReason.UNANSWERED: f"Over to you: {self._silent_so_far(telling)} not replied",
            NoticeReason.TAKEN_OVER: "Over to you, now on duty",
        }.get(slip.reason)
        return f" ({why}.)" if why else ""

    def _taken(self, telling: Telling, at: int) -> str:
        if telling.answer is None or telling.answered_at is None:
            return ""
        who = clean(telling.answered_by) if telling.answered_by else "Somebody"
        return f" ({who} has been on it since {say_time(telling.answered_at, at, self.roster.zone)}.)"

    def _silent_so_far(self, telling: Telling) -> str:
        names = [clean(one.name) for key, one in self.roster.contacts.items() if key in telling.told]
        if not 0 < len(names) <= 2:
            return "those told before have"
        return f"{join_names(names)} {'has' if len(names) == 1 else 'have'}"


def _rank(telling: Telling) -> Priority:
    # Nobody needs to act on what is over.
    return Priority.LOW if telling.ended is not None else telling.priority


def _key(slip: Slip, telling: Telling) -> str:
    # The desk tells one-time notices of one key apart by an instant that concerns nobody else.
    return slip.key.rsplit("#", 1)[0] if telling.one_time else slip.key


def _probe(key: str) -> str:
    parts = key.split("/", 2)
    return parts[2] if len(parts) == 3 else ""
