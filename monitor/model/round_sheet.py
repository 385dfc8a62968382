"""A round's sheet as it was typed in, for all places at once: the entries that it makes, and the outcome of each line.

1. A line is a spot of a place. One without a value (or with `-`), squeeze and smell was not read.
2. The values of a place, at one time and by one person, are one entry, a round; what was felt and smelled in a bin is a look
   into it (`inspected`), an entry for each line.
3. Lines stand for themselves: one that is refused or asked about keeps no other from being taken. A round of which one value
   is asked about is taken value by value.
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any

from monitor.model.errors import MisuseError
from monitor.model.events import ENTRY_ID, EventKind
from monitor.model.hand_words import UNREAD, Taken, hand_payload, hand_value, round_words
from monitor.model.settings import Settings
from monitor.model.work import Work, WorkKind
from monitor.model.work_entry import work_fields
from monitor.model.work_words import work_said

_VALUE, _LOOK = ("value",), ("squeeze", "smell")


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetLine:
    """A line as it was typed.

    Attributes:
        number: Its number, by which the answer names it.
        place: Id of a pile or bin.
        spot: The spot, "" where the place has none.
        value, squeeze, smell: As typed; "" for nothing.
        at: When it was read, UTC ms.
        by: Who read it.
        again: Whether somebody confirmed it, so that nothing is asked.
    """

    number: int
    place: str
    spot: str = ""
    value: str = ""
    squeeze: str = ""
    smell: str = ""
    at: int
    by: str = ""
    again: bool = False

    @property
    def read(self) -> bool:
        """Whether anything stands on it."""
        return bool(self.heat or self.squeeze.strip() or self.smell.strip())

    @property
    def heat(self) -> str:
        """The value as typed; "" where a mark says that it was not read."""
        text = self.value.strip()
        return "" if text in UNREAD else text


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetEntry:
    """An entry that some lines make.

    Attributes:
        lines: The lines.
        kind, payload: The event.
        words: The entry in words, with its place.
        values: The values of a round, each with its spot; empty for a look into a bin.
    """

    lines: tuple[SheetLine, ...]
    kind: EventKind
    payload: dict[str, Any]
    words: str
    values: tuple[tuple[str, Taken], ...] = ()

    @property
    def again(self) -> bool:
        """Whether somebody confirmed it."""
        return all(line.again for line in self.lines)


@dataclass(frozen=True, slots=True)
class Waiting:
    """A part of a line that was not taken.

    Attributes:
        line: The line.
        fields: The fields that wait: its `value`, or what was felt and smelled.
        why: The refusal, or the question.
        asked: Whether that is a question, which can be confirmed.
    """

    line: SheetLine
    fields: tuple[str, ...]
    why: str
    asked: bool = False


@dataclass(frozen=True, slots=True)
class Answer:
    """The writer's answer to an entry: a question, a refusal, or neither, with remarks and the event's instant (UTC ms)."""

    at: int | None = None
    question: str = ""
    refusal: str = ""
    remark: str = ""


@dataclass(slots=True)
class SheetOutcome:
    """The outcome of a sheet: entries that were taken, each with the writer's answer, and parts of lines that wait."""

    taken: list[tuple[SheetEntry, Answer]] = field(default_factory=list)
    waiting: list[Waiting] = field(default_factory=list)


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetMaker:
    """Makes entries of lines.

    Attributes:
        settings: The settings in force.
        told: Details of all readings: `with`, a thermometer.
        withdrawn: Returns the times (UTC ms) of readings of a place's spots that were taken back.
        entry_id: Returns the id under which an entry of some lines is sent each time, by its kind; "" for none.
    """

    settings: Settings
    told: dict[str, Any] = field(default_factory=dict)
    withdrawn: Callable[[str, Sequence[str]], Iterable[int]]
    entry_id: Callable[[WorkKind | EventKind, Sequence[SheetLine]], str]

    def entries(self, lines: Iterable[SheetLine]) -> Iterator[SheetEntry | Waiting]:
        """Yield the entries of the lines that were read, and the lines that say nothing possible."""
        rounds: dict[tuple[object, ...], list[tuple[SheetLine, Taken]]] = {}
        looks: list[SheetLine] = []
        for line in lines:
            if not line.read:
                continue
            if line.place not in self.settings.piles and line.place not in self.settings.bins:
                yield Waiting(line, (*_VALUE, *_LOOK), f'There is no pile or bin "{line.place[:40]}".')
                continue
            try:
                if line.heat:
                    one = (line, hand_value(self.settings, line.heat))
                    rounds.setdefault((line.place, line.at, line.by, line.again), []).append(one)
            except MisuseError as fault:
                yield Waiting(line, _VALUE, str(fault))
            if line.squeeze.strip() or line.smell.strip():
                looks.append(line)
        for read in rounds.values():
            yield self.round_of(read)
        for line in looks:
            yield self._look(line)

    def round_of(self, read: Sequence[tuple[SheetLine, Taken]]) -> SheetEntry:
        """Return the entry of some values of one place, time and reader."""
        first, lines = read[0][0], tuple(line for line, _ in read)
        values = tuple((line.spot, value) for line, value in read)
        gone = set(self.withdrawn(first.place, [line.spot for line in lines]))
        payload = hand_payload(first.place, first.at, values, {"by": first.by, **self.told}, gone)
        payload |= self._named(EventKind.READINGS, lines)
        words = f"{self.settings.place_name(first.place)} {round_words(values)}"
        return SheetEntry(lines=lines, kind=EventKind.READINGS, payload=payload, words=words, values=values)

    def _look(self, line: SheetLine) -> SheetEntry | Waiting:
        kind = WorkKind.INSPECTED
        if line.place not in self.settings.bins:
            return Waiting(line, _LOOK, "Squeeze and smell are of bins; write them into a note for a heap.")
        told = {"squeeze": line.squeeze, "smell": line.smell, "spot": line.spot, "by": line.by}
        try:
            fields = work_fields(self.settings, kind, told)
        except MisuseError as fault:
            return Waiting(line, _LOOK, str(fault))
        payload: dict[str, Any] = {"time": line.at, "place": line.place, "kind": kind.value, **fields}
        said = work_said(Work(**{**payload, "kind": kind}))
        words = f"{self.settings.place_name(line.place)} {said}"
        payload |= self._named(kind, [line])
        return SheetEntry(lines=(line,), kind=EventKind.WORK, payload=payload, words=words)

    def _named(self, kind: WorkKind | EventKind, lines: Sequence[SheetLine]) -> dict[str, str]:
        found = self.entry_id(kind, lines)
        return {ENTRY_ID: found} if found else {}


def put_sheet(maker: SheetMaker, lines: Iterable[SheetLine], put: Callable[[SheetEntry], Answer]) -> SheetOutcome:
    """Have the lines of a sheet taken in, each for itself, and return the outcome.

    Args:
        maker: Makes the entries.
        lines: The lines.
        put: Puts an entry before the writer.
    """
    outcome = SheetOutcome()
    for made in maker.entries(lines):
        if isinstance(made, Waiting):
            outcome.waiting.append(made)
            continue
        answer = put(made)
        if not (answer.question or answer.refusal):
            outcome.taken.append((made, answer))
        elif len(made.lines) == 1:
            outcome.waiting.append(_waits(made, answer))
        else:
            # The warmest first, so that one that is too cold by a slip still has the others to be compared with.
            read = zip(made.lines, made.values, strict=True)
            for line, (_, value) in sorted(read, key=lambda one: -one[1][1].milli):
                single = maker.round_of([(line, value)])
                answer = put(single)
                if answer.question or answer.refusal:
                    outcome.waiting.append(_waits(single, answer))
                else:
                    outcome.taken.append((single, answer))
    outcome.waiting.sort(key=lambda one: one.line.number)
    return outcome


def _waits(entry: SheetEntry, answer: Answer) -> Waiting:
    fields = _VALUE if entry.values else _LOOK
    return Waiting(entry.lines[0], fields, answer.refusal or answer.question, asked=not answer.refusal)
