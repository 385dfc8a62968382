"""Puts entries right, or takes them back, for the page: the same correction, undo and questions as on the command line."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import replace
from typing import Any

from monitor.app.entries.amendments import correct_entry, entry_words, undo_entry
from monitor.app.entries.entries import OPTIONS, Entry
from monitor.app.entries.entry_log import Numbered, author_of, entry_log
from monitor.app.entries.foretelling import foretell
from monitor.app.entries.hand_log import with_words
from monitor.configuration import Configuration
from monitor.journal import Store, open_reader
from monitor.model.errors import FieldError, MisuseError
from monitor.model.events import EventKind
from monitor.model.times import parse_time
from monitor.model.units import unit_sign
from monitor.page import Doing, Done, LoggedEntry

_ALWAYS = (
    "by",
    "note",
    "photo",
    "again",
    "spot",
    "depth",
    "with",
    "at",
    "place",
    "from",
    "to",
    "amount",
    "measure",
    "what",
    "parts",
)
"""Options that a correction looks up by name; those that the form does not change are None."""


class LogMending:
    """Fills `monitor.page.Mending`; any thread may call it."""

    def __init__(self, configuration: Callable[[], Configuration], doing: Doing, now: Callable[[], int]) -> None:
        """Prepare everything.

        Args:
            configuration: Returns the configuration in force.
            doing: Puts the events before the writer.
            now: Returns the daemon's time, UTC ms.
        """
        self._configuration = configuration
        self._doing = doing
        self._now = now

    def number(self, at: int, row: int, series: str, time: int) -> int:
        """Return the number of an entry.

        Args:
            at: The event that brought it, UTC ms.
            row: Of work, its row among those of an import, from 0.
            series: Of a reading by hand, its series; "" for work.
            time: Of a reading, when it was taken, UTC ms.

        Raises:
            MisuseError: There is no such entry.
        """

        def fits(one: Numbered) -> bool:
            if one.at != at:
                return False
            if series:
                return any((name, read.time) == (series, time) for name, read in one.readings)
            return one.entered is not None and one.entered.row == row

        with open_reader(self._configuration().data) as store:
            found = next((one.number for one in self._entries(store) if fits(one)), None)
        if found is None:
            raise MisuseError("That entry is not in the log any more.")
        return found

    def entry(self, number: int) -> LoggedEntry:
        """Return an entry.

        Raises:
            MisuseError: There is no entry of that number.
        """
        settings = self._configuration().settings
        with open_reader(self._configuration().data) as store:
            found = next((one for one in self._entries(store) if one.number == number), None)
            if found is None:
                raise MisuseError(f"There is no entry {number} in the log.")
            entered = found.entered
            return LoggedEntry(
                number=number,
                entered=found.at if entered is None else entered.entered,
                time=found.time,
                place=found.place,
                words=entry_words(settings, found),
                by=author_of(store, found),
                work=found.work,
                reads=tuple(with_words(store, read) for _, read in found.readings),
                undone=found.undone,
                mended=None if entered is None else entered.corrected,
                mended_by="" if entered is None else entered.corrected_by,
            )

    def mend(self, number: int, told: Mapping[str, str], at: int | None, by: str, *, again: bool) -> Done:
        """Put an entry right.

        Args:
            number: The entry.
            told: The fields that change, by name; the value of a reading is called `value:` and its spot.
            at: The right time, UTC ms; None: unchanged.
            by: Who mends it.
            again: Whether the person confirmed it, so that no question is asked.

        Returns:
            What became of it; a question stands in its `question`.

        Raises:
            MisuseError: It cannot be so, or nothing would change.
        """
        found = self.entry(number)
        if found.reads:
            return self._mend_readings(found, told, at, by, again=again)
        given = _given({OPTIONS.get(name, name): text for name, text in told.items()})
        with _at_field("amount" if told.get("amount") else ""):
            (right,) = correct_entry(
                self._configuration(), f"#{number}", None, (), given, at, lambda text, _: parse_time(text)
            )
        done = self._put(right, by, again=again)
        return replace(done, remark=right.remark) if right.remark and done.at is not None else done

    def take_back(self, number: int, by: str, *, again: bool) -> Done:
        """Take an entry back.

        Args:
            number: The entry.
            by: Who takes it back.
            again: Whether the person confirmed it, so that no question is asked.

        Returns:
            What became of it; a question stands in its `question`.

        Raises:
            MisuseError: It cannot be taken back.
        """
        entry = undo_entry(self._configuration(), f"#{number}", None, _given({"by": by}))
        return self._put(entry, by, again=again)

    def _mend_readings(
        self, found: LoggedEntry, told: Mapping[str, str], at: int | None, by: str, *, again: bool
    ) -> Done:
        """Put readings right: the old ones are withdrawn once all is answered, the right ones written down."""
        whole = at is not None or any(not name.startswith("value:") for name in told)
        amended: list[Entry] = []
        for read in found.reads:
            value = told.get(f"value:{read.spot}", "")
            if not (whole or value):
                continue
            kept = {"by": read.by, "note": read.note, "with": read.thermometer}
            given = _given({name: told.get(name, text) or None for name, text in kept.items()})
            given |= {"spot": read.spot or None, "depth": f"{read.depth_mm} mm" if read.depth_mm else None}
            typed = (value or f"{read.micro / 1e6:g} {unit_sign(read.unit)}",)
            with _at_field(f"value:{read.spot}" if value else ""):
                amended += correct_entry(self._configuration(), f"#{found.number}", None, typed, given, at, _no_instant)
        if not amended:
            raise MisuseError("Nothing about it would change.")
        back, right = _as_one(amended[::2]), _as_one(amended[1::2])
        # A question about the right values must be asked while the old ones still stand.
        foretold = foretell(self._configuration(), right, self._now(), again=again)
        if foretold.question:
            return Done(None, question=foretold.question)
        gone = self._put(back, by, again=again)
        if gone.question or gone.refusal:
            return gone
        done = self._put(right, by, again=True)
        if done.refusal:
            words = f"The old reading is taken back; the right one was not taken in: {done.refusal}"
            raise MisuseError(f"{words} Write it down again.")
        return done

    def _put(self, entry: Entry, by: str, *, again: bool) -> Done:
        # Who mends an entry need not be who did the work.
        payload = entry.payload | ({"by": by} if entry.kind is EventKind.CORRECTION else {})
        return self._doing.put(entry.kind, payload, again=again)

    def _entries(self, store: Store) -> list[Numbered]:
        settings = self._configuration().settings
        return entry_log(store, [*settings.piles, *settings.bins])


@contextmanager
def _at_field(name: str) -> Iterator[None]:
    """Say at which field of the form a refusal belongs, where the refusal itself does not; "" for none."""
    try:
        yield
    except FieldError:
        raise
    except MisuseError as fault:
        if not name:
            raise
        raise FieldError(str(fault), name) from fault


def _given(told: Mapping[str, Any]) -> dict[str, Any]:
    return dict.fromkeys(_ALWAYS) | dict(told)


def _no_instant(text: str, option: str) -> int:
    raise MisuseError(f"A reading has no {option}: {text[:20]}.")


def _as_one(entries: Sequence[Entry]) -> Entry:
    """Return entries of one kind as one event: their readings together."""
    first = entries[0]
    if first.kind is EventKind.READINGS:
        return replace(first, payload=first.payload | {"rows": [row for one in entries for row in one.payload["rows"]]})
    if len(entries) == 1:
        return first
    payload = {name: told for name, told in first.payload.items() if name != "reading"}
    return replace(first, payload=payload | {"readings": [one.payload["reading"] for one in entries]})
