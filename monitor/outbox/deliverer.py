"""Hands notice rows to their channels and keeps the state of each delivery.

Rules:
1. A row is begun in a committed transaction before its letter is handed over, and done or failed in a later one:
   delivery is at least once, and a letter that may have arrived before says so.
2. Only `step` changes rows, on the writer's thread; channels work on threads of their own and answer through a
   queue. Nothing here waits for a channel.
3. A channel that failed twice running is down: it gets one letter at a time, the most urgent, until it accepts one.
   Each change of its state is reported once.
4. At most `IN_HAND` letters of a channel are handed over at a time, so that a newer, more urgent one is not far behind.
5. Each letter is composed on its own; if that fails, the bare text goes, so that no letter holds up another.
6. While nothing can be stored, `step_unstored` hands over due rows, and `step` stores their results afterwards. A letter that
   no row stood for, and that is not known to have arrived by then, can be taken over by a row (`take_over`).
"""

import logging
import queue
from collections.abc import Callable, Collection, Iterable, Mapping
from contextlib import AbstractContextManager
from dataclasses import dataclass, replace

from monitor.model.notice_rows import NoticeRow
from monitor.outbox.channel_thread import DELIVERY_S, Lane, Result
from monitor.outbox.channels import Channel, PageChannel
from monitor.outbox.outbox_port import NoticeRows
from monitor.outbox.outgoing_letters import NO_ANSWER, Letter, letter
from monitor.outbox.retry import retry_at
from monitor.outbox.unstored import Rowless, Unstored

IN_HAND = 20
_WINDOW = 200
_WINDOW_MAX = 12_800
_DOWN_AFTER = 2

log = logging.getLogger("heaptender")

Compose = Callable[[NoticeRow], Letter]
"""Makes the letter of a row; the app puts in names, link, token and the head of the record."""

LinkChanged = Callable[[str, bool, str], None]
"""Receives (channel, up, why) when a channel went down or came up; inside the transaction of `step`."""

GivenUp = Callable[[NoticeRow, str], None]
"""Receives (row, why) when a row failed for good; inside the transaction of `step`."""


@dataclass(frozen=True, slots=True)
class _Health:
    failures: int = 0
    up: bool = True


class Deliverer:
    """The outbox; used by the writer's thread alone, unless a method says otherwise."""

    def __init__(
        self,
        channels: Mapping[str, Channel],
        compose: Compose,
        *,
        link_changed: LinkChanged,
        given_up: GivenUp,
        wake: Callable[[], None] = lambda: None,
        down: Collection[str] = (),
        limit_s: float = DELIVERY_S,
        told: Callable[[NoticeRow], None] = lambda _row: None,
    ) -> None:
        """Take the channels by their ids.

        Args:
            channels: All channels; a row for an unknown one fails for good.
            compose: Makes letters.
            link_changed: Called when a channel goes down or comes up.
            given_up: Called when a row fails for good.
            wake: Called on a channel's thread when a result waits for the next `step`; must not block.
            down: Channels that were reported down before this start, so that their return is reported.
            limit_s: Longest time of one delivery, seconds.
            told: Receives each accepted row (in `step` inside its transaction).
        """
        self._channels = channels
        self._compose = compose
        self._link_changed = link_changed
        self._given_up = given_up
        self._wake = wake
        self._results: queue.SimpleQueue[Result] = queue.SimpleQueue()
        self._lanes = {
            name: Lane(name, channel, self._report, limit_s)
            for name, channel in channels.items()
            if not isinstance(channel, PageChannel)
        }
        self._health = {name: _Health(up=name not in down) for name in channels}
        self._in_hand: dict[int, NoticeRow] = {}
        self._unsettled: list[Result] = []
        self._unstored = Unstored()
        self._rowless = Rowless()
        self._told = told
        self._closed = False

    def _report(self, result: Result) -> None:
        self._results.put(result)
        self._wake()

    def step(self, rows: NoticeRows, now: int, transaction: Callable[[], AbstractContextManager[object]]) -> int:
        """Settle the results and hand over the due rows.

        Exceptions of the transaction go on to the caller; then nothing was handed over, and no result is lost.

        Args:
            rows: The journal's rows.
            now: The writer's time, UTC ms.
            transaction: Opens a transaction that is committed if the `with` ends without an exception.

        Returns:
            Number of letters handed over.
        """
        while not self._results.empty():
            self._unsettled.append(self._results.get())
        self._rowless.keep(self._unstored.tried)
        if not self._unsettled and not self._unstored.tried and (self._closed or not rows.due(now, 1)):
            return 0
        health, in_hand = dict(self._health), dict(self._in_hand)
        letters: list[tuple[str, Letter]] = []
        try:
            with transaction():
                self._store(rows, now)
                for result in self._unsettled:
                    self._settle(rows, now, result)
                for row in [] if self._closed else self._begin(rows, now):
                    made, why = self._made(row)
                    if made is None:
                        self._settle(rows, now, Result(row.channel, row.id, why))
                    else:
                        letters.append((row.channel, made))
        except BaseException:
            self._health, self._in_hand = health, in_hand
            raise
        self._unsettled.clear()
        self._unstored = Unstored()
        for channel, one in letters:
            self._lanes[channel].put(one)
        return len(letters)

    def step_unstored(self, waiting: Iterable[NoticeRow], now: int) -> int:
        """Hand over rows while nothing can be stored.

        Args:
            waiting: Waiting rows, the most urgent first; those with a number below 0 are in no journal.
            now: The writer's time, UTC ms.

        Returns:
            Number of letters handed over.
        """
        results, self._unsettled = self._unsettled, []
        while not self._results.empty():
            results.append(self._results.get())
        for result in results:
            row = self._unstored.answered(result.row, result.why, now)
            if row is None:
                self._unsettled.append(result)
                continue
            self._note(result)
            if not result.why:
                self._told(row)
                log.info("Message %s to %s by %s was accepted.", row.notice, row.contact, row.channel)
        handed = 0
        for row in [] if self._closed else self._unstored.due(waiting, now):
            if row.channel not in self._lanes or row.id in self._in_hand or self._room(row.channel) <= 0:
                continue
            made, _ = self._made(row)
            if made is not None:
                self._unstored.handed(row, now)
                self._lanes[row.channel].put(made)
                handed += 1
        return handed

    def rowless(self) -> list[NoticeRow]:
        """Return the letters that went out past the journal and are not known to have arrived; numbers are below 0."""
        self._rowless.keep(self._unstored.tried)
        return self._rowless.rows()

    def take_over(self, number: int, row: NoticeRow, rows: NoticeRows, now: int) -> None:
        """Let a new row stand for a letter of `rowless`: it waits for that letter's answer, or says that it may be a repeat.

        Args:
            number: Number of the letter, below 0.
            row: The row that has the same news for the same channel; it waits.
            rows: The journal's rows, in a transaction.
            now: The writer's time, UTC ms.
        """
        if not rows.begin(row.id):
            return
        tried = self._rowless.take_over(number, row.id)
        if tried.why is None:
            self._in_hand[row.id] = replace(row, maybe_repeat=tried.maybe_arrived)
        else:
            rows.fail(row.id, tried.why, now, maybe_arrived=True)

    def forget_rowless(self) -> None:
        """Forget the letters of `rowless` that got no answer: no row has the same news any more."""
        self._rowless.forget()

    def waiting(self) -> int:
        """Return the number of letters handed over and not yet settled."""
        return len(self._in_hand)

    def close(self, timeout_s: float = 5.0) -> None:
        """End the channels' threads, waiting for each at most `timeout_s`; a last `step` settles the results."""
        for lane in self._lanes.values():
            lane.close(timeout_s)

    def finish(self, timeout_s: float) -> None:
        """Close for good: from now on `step` settles results, and hands nothing more over."""
        self._closed = True
        self.close(timeout_s)

    def _made(self, row: NoticeRow) -> tuple[Letter | None, str]:
        """Return the letter of a row (the bare text if composing fails), or the reason why there is none."""
        try:
            return self._compose(row), ""
        except Exception as fault:  # noqa: BLE001 - whatever fails there, the message must go, and the others too
            log.error("Notice %s goes as bare text: it cannot be composed (%s).", row.notice, type(fault).__name__)
        try:
            return letter(row, site="The yard", place="", link="", head=""), ""
        except Exception as fault:  # noqa: BLE001 - as above
            return None, f"this program cannot write the letter ({type(fault).__name__})"

    def _store(self, rows: NoticeRows, now: int) -> None:
        """Store the states of rows that were handed over while nothing could be stored."""
        for number, one in self._unstored.tried.items():
            if not rows.begin(number):
                continue
            if one.why is None:
                self._in_hand[number] = one.row
            elif one.why:
                again = retry_at(now, one.row.at, one.row.attempts + one.tries)
                rows.fail(number, one.why, again, maybe_arrived=one.maybe_arrived)
            else:
                rows.done(number)

    def _settle(self, rows: NoticeRows, now: int, result: Result) -> None:
        row = self._in_hand.pop(self._rowless.row_of(result.row), None)
        if row is None:
            self._settle_rowless(result)
            return
        if result.why:
            again = retry_at(now, row.at, row.attempts + 1)
            maybe_arrived = row.maybe_repeat or result.why.startswith(NO_ANSWER)
            rows.fail(row.id, result.why, again, maybe_arrived=maybe_arrived)
            log.warning("Message %s to %s by %s did not arrive: %s", row.notice, row.contact, row.channel, result.why)
            if again is None:
                self._given_up(row, result.why)
        else:
            rows.done(row.id)
            self._told(row)
            log.info("Message %s to %s by %s was accepted.", row.notice, row.contact, row.channel)
        self._note(result)

    def _settle_rowless(self, result: Result) -> None:
        row = self._rowless.answered(result.row, result.why)
        if row is None:
            return
        if not result.why:
            self._told(row)
            log.info("Message %s to %s by %s was accepted.", row.notice, row.contact, row.channel)
        self._note(result)

    def _note(self, result: Result) -> None:
        before = self._health[result.channel]
        after = _Health() if not result.why else replace(before, failures=before.failures + 1)
        if after.failures >= _DOWN_AFTER:
            after = replace(after, up=False)
        self._health[result.channel] = after
        if after.up != before.up:
            self._link_changed(result.channel, after.up, result.why)

    def _room(self, channel: str) -> int:
        taken = sum(row.channel == channel for row in self._in_hand.values())
        taken += sum(one.why is None and one.row.channel == channel for one in self._unstored.tried.values())
        taken += self._rowless.in_hand(channel)
        return (IN_HAND if self._health[channel].up else 1) - taken

    def _begin(self, rows: NoticeRows, now: int) -> list[NoticeRow]:
        """Begin the rows that their channels have room for; the page's are done at once."""
        begun: list[NoticeRow] = []
        window = _WINDOW
        room = {name: self._room(name) for name in self._lanes}
        while True:
            due = rows.due(now, window)
            for row in due:
                if row.channel not in self._channels:
                    why = f'the channel "{row.channel}" is no longer configured'
                    if rows.begin(row.id) and rows.fail(row.id, why, None):
                        self._given_up(row, why)
                elif row.channel not in self._lanes:
                    if rows.begin(row.id):
                        rows.done(row.id)
                elif room[row.channel] > 0 and rows.begin(row.id):
                    room[row.channel] -= 1
                    self._in_hand[row.id] = row
                    begun.append(row)
            # Rows of a channel without room may fill the whole window and hide the others' rows; widen it then.
            if len(due) < window or window >= _WINDOW_MAX or not any(left > 0 for left in room.values()):
                return begun
            window *= 4
