"""The notice desk decides whom to tell, when, and when again.

It chooses occasions, recipients and instants; the words come with the cause. The engine calls it at instants of engine
time and asks it when it next has something to do (`due`). Rules, beside those of `roster` and `trays`:

1. The contacts on duty with the lowest order are told at once. While nobody answers, each of them gets up to `repeats`
   repeats, the first after the priority's interval and each further one after twice as long, and after `pass_on` the next
   order is told too. The highest priority is repeated until somebody answers or it is over, at most an hour apart. What is
   low is not repeated to a contact who gets the digest, which has it. Intervals count from the telling itself, so that a
   message that was held is not repeated at once.
2. The highest priority is passed on to somebody off duty when nobody else is left; lower ones wait for a duty to begin.
3. A contact who is off duty when a repeat falls due is not disturbed; a contact who has taken over and was not told
   yet is told.
4. *Seen* ends repeats and passing on; a message that still waits as new goes out, marked as seen. *Not me after all*
   starts both again from its own instant, without a message at once. *Put off* takes the cause off every tray; `cause`
   called at or after its end tells again. *Out of service* forgets the cause; no `cause` of its key is told until *back*.
5. The end of a high or highest alarm is told, once, to everybody who was told of it, on duty or not; through quiet
   hours if they were told within the last two hours. Other ends are lines of the digest. An alarm that ended while its
   message waited is still told, as over.
6. The digest goes once a local date to every contact that wants it, on duty or not (it calls nobody to work); it is
   held through quiet hours. Notices that go at its instant go in it; those that waited through quiet hours bring it forward
   (`digests`). A day without events is one sentence, so that silence is never an answer.
"""

from collections.abc import Mapping, Sequence

from monitor.model.effects import Draft, Occasion
from monitor.model.events import Answer
from monitor.model.settings import Settings
from monitor.model.times import DAY_MS, HOUR_MS
from monitor.model.words import Priority
from monitor.notices.absences import alone_sentences
from monitor.notices.digests import Digests
from monitor.notices.due_lines import SoonDue, nothing_due
from monitor.notices.followups import FollowUps, Outgoing
from monitor.notices.letters import Letters, Words
from monitor.notices.names import clean
from monitor.notices.roster import Roster
from monitor.notices.state import (
    Absence,
    Cause,
    DeskState,
    Digest,
    Line,
    LineKind,
    Message,
    NoticeReason,
    Shut,
    Slip,
    Telling,
)
from monitor.notices.summary import LeavingFacts, Summary
from monitor.notices.trays import Trays
from monitor.notices.watched import Watched

AWAKE_MS = 2 * HOUR_MS
"""How long after an urgent message its reader is taken to be up, so that its end may reach them in quiet hours."""

ABSENCES_KEPT_MS = 7 * DAY_MS
"""How long an absence that is over is remembered."""

LINES_KEPT = 400
"""Lines kept for digests and *while you were away*; the oldest go first (the journal has them all)."""


class NoticeDesk:
    """Decides notices. Its whole memory is its `DeskState`; for new settings, build a new desk on the same state.

    Every method takes `at`, engine time in UTC ms, which never falls from call to call.

    Args:
        state: What the desk remembers; changed in place.
        settings: Contacts, policy, names, time zone.
        words: Gives fresh words when an alarm that is still on is told again; optional.
        watched: Gives how each place is watched, for summaries; optional.
        due: Gives the things that fall due soon, for the digest; optional.
    """

    letters = Letters
    """Writes the drafts; `unread` has a class that writes none."""

    def __init__(
        self,
        state: DeskState,
        settings: Settings,
        words: Words | None = None,
        *,
        watched: Watched = tuple,
        due: SoonDue = nothing_due,
    ) -> None:
        self.state = state
        self._roster = Roster(settings, state.absences)
        self._trays = Trays(state, self._roster, settings.notices.gather_ms)
        self._follow = FollowUps(state, self._roster, self._trays, settings.notices)
        self._letters = self.letters(self._roster, words)
        self._summary = Summary(self._roster, words, watched, due)
        self._digests = Digests(state, self._roster, self._summary, settings.notices.digest_minute)

    def begin(self, at: int) -> None:
        """Arm the digest; call after each `settings` event. Doing it again changes nothing."""
        self._digests.arm(at)

    def cause(self, at: int, cause: Cause, *, anew: bool = False) -> list[Draft]:
        """Tell a new cause, or tell again one that was put off until now.

        A cause that is on already and was not put off only gets the new words, unless its priority rose.

        Args:
            at: Engine time, UTC ms.
            cause: The cause and its words.
            anew: Whether it has become another matter, told from the beginning whatever was said or answered before.

        Returns:
            The drafts that go out at once.
        """
        if cause.key in self.state.out_of_service:
            return []
        # Each one-time notice is a telling of its own, beside an alarm of the same key that may stand meanwhile.
        key = f"{cause.key}#{at}" if cause.one_time else cause.key
        known = self.state.tellings.get(key)
        if known is None or not known.standing or anew:
            # A one-time notice stands nowhere else later, so its line says what to do.
            once = cause.one_time and cause.act
            self.line(at, cause.place, f"{cause.short}. {cause.act}" if once else cause.short, LineKind.CAME_ON)
            if cause.priority is Priority.LINE:
                return []
            self._trays.strike(lambda slip: slip.key == key)
            self.state.tellings.pop(key, None)  # so that tellings stay in the order in which they came
            self.state.tellings[key] = Telling.of(cause)
            return self._post(at, self._to_first(key, cause.place, at))
        raised = cause.priority > known.priority
        known.priority, known.text, known.short, known.act = cause.priority, cause.text, cause.short, cause.act
        known.through_quiet, known.evening = cause.through_quiet, cause.evening
        if cause.priority <= Priority.LOW:
            known.pass_on_at = None  # it became less: what is low is passed on to nobody
        if raised:
            return self._tell_again(at, key, NoticeReason.MORE_URGENT)
        if known.answer is Answer.PUT_OFF and (known.until is None or at >= known.until):
            return self._tell_again(at, key, NoticeReason.PUT_OFF_ENDED)
        return []

    def evening(self, at: int, causes: Sequence[Cause], *, may_wait: bool) -> list[Draft]:
        """Tell what the next day is expected to bring, as one message to each contact who gets the digest and is not away.

        Nobody need answer, and nobody is called to work: it goes to those on duty and off.

        Args:
            at: Engine time, UTC ms.
            causes: One-time causes, each of another place.
            may_wait: Whether it may wait through a contact's quiet hours; False: whoever has them is not told.

        Returns:
            The drafts that go out at once.
        """
        outgoing: Outgoing = {}
        for cause in causes:
            key = f"{cause.key}#{at}"
            self.line(at, cause.place, f"{cause.short}. {cause.act}", LineKind.CAME_ON)
            self.state.tellings[key] = Telling.of(cause)
            for contact, one in self._roster.contacts.items():
                held = self._roster.quiet_until(contact, at) is not None and not may_wait
                away = self._roster.is_away(contact, at)
                if one.digest and self._roster.looks_after(contact, cause.place) and not away and not held:
                    slip = Slip(key=key, occasion=Occasion.NEW, reason=NoticeReason.CAME_ON)
                    outgoing.setdefault(contact, []).append(slip)
        return self._post(at, outgoing)

    def over(self, at: int, key: str, message: Message | None = None, *, everybody: bool = False) -> list[Draft]:
        """Note that a cause is over; if it was high or highest, tell everybody who was told of it.

        Args:
            at: When the engine decided so, UTC ms.
            key: The cause's; an unknown key is ignored.
            message: Words for its end; None: they are made from its one-line form.
            everybody: Whether all who were told hear of the end whatever the priority, because the cause never was true.

        Returns:
            The drafts that go out at once.
        """
        telling = self.state.tellings.get(key)
        if telling is None or not telling.standing:
            return []
        telling.ended, telling.pass_on_at = at, None
        words = message or self._letters.ended(telling, at)
        telling.over_text, telling.over_short = words.text, words.short
        self.line(at, telling.place, telling.over_short, LineKind.OVER)
        self._trays.strike(lambda slip: slip.key == key and slip.occasion is not Occasion.NEW)
        outgoing: Outgoing = {}
        for contact, told in telling.told.items():
            told.repeat_at = None
            if everybody or telling.priority >= Priority.HIGH:
                awake = at - told.last <= AWAKE_MS
                slip = Slip(key=key, occasion=Occasion.NEW, reason=NoticeReason.OVER, urgent=awake)
                outgoing[contact] = [slip]
        return self._post(at, outgoing)

    def answered(self, at: int, key: str, answer: Answer, until: int | None = None, by: str = "") -> list[Draft]:
        """Take a person's answer to a cause.

        Args:
            at: When they answered, UTC ms.
            key: The cause's; an unknown key is ignored.
            answer: *taken up again* tells again at once; *not me after all* resumes the repeats; after *back* the engine
                calls `cause` if it is on.
            until: Where it was *put off*, until when (UTC ms); from then on the engine calls `cause` if it is still on.
            by: Who answered.

        Returns:
            The drafts that go out at once.
        """
        if answer is Answer.BACK:
            self.state.out_of_service.pop(key, None)
            return []
        telling = self.state.tellings.get(key)
        if answer is Answer.OUT_OF_SERVICE:
            self._trays.strike(lambda slip: slip.key == key)
            self.state.tellings.pop(key, None)
            place = telling.place if telling else key.split("/", 1)[0]
            self.state.out_of_service[key] = Shut(at=at, place=place, by=by, short=telling.short if telling else key)
            return []
        if telling is None or not telling.standing:
            return []
        if answer is Answer.TAKEN_UP:
            return self._tell_again(at, key, NoticeReason.TAKEN_UP) if telling.answer is not None else []
        if answer is Answer.NOT_ME:
            telling.answer, telling.answered_at, telling.answered_by, telling.until = None, None, "", None
            self._follow.resume(at, key)
            return []
        telling.answer, telling.answered_at, telling.answered_by, telling.until = answer, at, by, until
        telling.pass_on_at = None
        for told in telling.told.values():
            told.repeat_at = None
        keep_new = answer is Answer.SEEN
        self._trays.strike(lambda slip: slip.key == key and not (keep_new and slip.occasion is Occasion.NEW))
        return []

    def absent(self, at: int, absence: Absence) -> None:
        """Note that a contact is away; what they were told and nobody answered goes on to others as soon as they are away.

        Args:
            at: Engine time, UTC ms.
            absence: The absence; one that is over already is not noted.
        """
        absences = self.state.absences
        absences[:] = [one for one in absences if one.end > at - ABSENCES_KEPT_MS]
        if absence.end <= at:
            return
        absences.append(absence)
        begins = max(at, absence.start)
        for telling in self.state.tellings.values():
            told = telling.told.get(absence.contact)
            if told is not None and telling.running:
                told.repeat_at = begins if told.repeat_at is None else min(begins, told.repeat_at)

    def present(self, at: int, row: int) -> None:
        """Forget the absence that an entry (its event, UTC ms, and its row) told of."""
        self.state.absences[:] = [one for one in self.state.absences if (one.at, one.row) != (at, row)]

    def alone(self, now: int, start: int, end: int) -> list[str]:
        """Return sentences on the times at which absences leave nobody on duty.

        Args:
            now: When they are read, UTC ms.
            start: The first instant to look at, UTC ms.
            end: The instant after the last, UTC ms.
        """
        return alone_sentences(self._roster, start, end, now)

    def hush(self, key: str) -> None:
        """Say no more of a cause, which is muted by design (by a turning, or by a worse alarm that says it all).

        Its slips are taken off every tray. When the mute ends, the engine calls `cause` again if it is still on.
        """
        self._trays.strike(lambda slip: slip.key == key)
        self.state.tellings.pop(key, None)

    def line(self, at: int, place: str, text: str, kind: LineKind = LineKind.NOTED) -> None:
        """Note a line for the digest.

        Args:
            at: When it happened, UTC ms.
            place: Pile, bin, `ambient`, or "" for the yard.
            text: The line; its instants may stand as marks.
            kind: What the line is about.
        """
        self.state.lines.append(Line(at=at, place=place, text=text, kind=kind))
        del self.state.lines[:-LINES_KEPT]

    def due(self) -> int | None:
        """Return when `serve` must next be called, UTC ms, or None."""
        instants = [self._follow.due(), self.state.digest_at]
        return min((instant for instant in instants if instant is not None), default=None)

    def digest_due(self, at: int) -> bool:
        """Return whether `serve` at `at` will set a digest aside or write one, for which it asks how each place is watched."""
        return self._digests.due(at)

    def digest_begins(self, at: int) -> bool:
        """Return whether `serve` at `at` will write the first digests of a date, for which their own lines must be noted."""
        return self._digests.begins(at)

    def serve(self, at: int) -> list[Draft]:
        """Serve every deadline at or before `at`, each once, and return the drafts that go out."""
        self._digests.bring_forward(at)
        outgoing = self._follow.due_at(at)
        digests = {one.contact: one for one in self._digests.serve(at)}
        return self._post(at, outgoing, digests)

    def away(self, at: int, since: int, places: tuple[str, ...] = (), lines: list[Line] | None = None) -> str:
        """Return *while you were away*: the events from `since` on, and the alarms that are open now.

        Args:
            at: Now, UTC ms.
            since: When the person left, UTC ms.
            places: The places to tell of; empty: all.
            lines: The journal's lines, for spans longer than the desk remembers; None: the desk's own.
        """
        told = (
            self.state
            if lines is None
            else DeskState(tellings=self.state.tellings, out_of_service=self.state.out_of_service, lines=lines)
        )
        return self._summary.away(told, since, at, places)

    def leaving(self, at: int, facts: LeavingFacts) -> str:
        """Return *before you go*: how places are watched, each probe's last reading, who is on duty, and open alarms."""
        return self._summary.leaving(self.state, facts, at)

    def last_waking(self, place: str, at: int) -> int:
        """Return when (UTC ms) to tell of something at a place that falls due at `at`, while somebody is up (`roster`)."""
        return self._roster.last_waking(place, at)

    def watched_words(self, at: int) -> str:
        """Return how many places are watched by probes, by hand and by nobody."""
        return self._summary.counted(at, ())

    def test(self, at: int, contact: str) -> Draft:
        """Return a test message; it waits for nothing, since a person is waiting for it.

        Raises:
            KeyError: The settings have no such contact.
        """
        site, name = clean(self._roster.settings.site.name), clean(self._roster.contacts[contact].name)
        text = f"Test from {site} to {name}: notices reach you here. Nothing is wrong, and there is nothing to answer."
        return self._letters.plain(
            contact, Occasion.NEW, NoticeReason.TEST, text, at, "Somebody asked for a test message."
        )

    def _to_first(self, key: str, place: str, at: int) -> Outgoing:
        return {
            contact: [Slip(key=key, occasion=Occasion.NEW, reason=NoticeReason.CAME_ON)]
            for contact in self._roster.first(place, at)
        }

    def _tell_again(self, at: int, key: str, reason: NoticeReason) -> list[Draft]:
        telling = self.state.tellings[key]
        telling.answer, telling.answered_at, telling.answered_by, telling.until = None, None, "", None
        telling.pass_on_at = None
        outgoing = self._to_first(key, telling.place, at)
        for contact, told in telling.told.items():
            told.repeats, told.repeat_at = 0, None
            if self._roster.answers_for(contact, telling.place, at):
                outgoing[contact] = [Slip(key=key, occasion=Occasion.REPEAT, reason=reason)]
            elif contact in self._roster.contacts:
                # Off duty now; should they come on duty with nobody having answered, they hear of it again.
                told.repeat_at = at + self._follow.interval(telling.priority)
        return self._post(at, outgoing)

    def _post(self, at: int, outgoing: Outgoing, digests: Mapping[str, Digest] | None = None) -> list[Draft]:
        """Hand out slips, and send the digests of this instant: what goes beside one goes in it, as one message."""
        drafts: list[Draft] = []
        digests = digests or {}
        for contact in self._roster.contacts:
            slips: tuple[Slip, ...] = ()
            for parcel in self._trays.hand(contact, outgoing[contact], at) if contact in outgoing else ():
                if contact in digests and not self._trays.apart(parcel):
                    slips = parcel.slips
                else:
                    drafts.append(self._letters.write(parcel, self.state.tellings, at))
                for slip in parcel.slips:
                    self._follow.told(at, contact, slip)
            if contact in digests:
                drafts.append(self._letters.digest(digests[contact], slips, self.state.tellings, at))
        waiting = self._trays.waiting_keys()
        for key in [key for key, one in self.state.tellings.items() if not one.standing and key not in waiting]:
            del self.state.tellings[key]
        return drafts
