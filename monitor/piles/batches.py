"""The batch on each pile, from the logged work; fed in order of the work's own time.

Rules:

1. `built` begins a batch on its pile and ends the batch that lay there. Without a `built` of its own, a pile's first
   batch begins at the first accepted core reading; once a pile was emptied it stays empty until `built`, `added`, or
   a batch that is moved there.
2. A batch keeps the rule and the method of the pile where it was built, wherever it goes.
3. `moved` takes the batch of `place` to `to`, counts as turned unless its note says "not a turning", and takes the
   probes along unless its note says "probes left" or "probe left" (or "left the probes", "left the probe").
4. `split` begins a second batch on `to` from the batch on `place`, with the same building, rule and method; the first
   batch stays. `merged` ends the batch of `place` in the batch on `to`, and so does a move onto an occupied pile: one
   heap is one batch. A split onto an occupied pile adds to its batch. `merged` onto an empty pile is a move. For
   the batch that takes another up, or is added to, it is as if new material were `added`. If no batch is known to lie
   on `place`, unknown material came: it adds to the batch on `to`, or begins one there.
5. Material moved, merged or split into a bin is bedding from then on: a heap that is moved there ends, a part that is
   split off leaves the heap as it is. Its probes stay where they are.
6. Ids are PILE-YYYY-MM-DD (the yard's own day of its beginning, the pile where it began), then -2, -3 for later ones of
   that day. Batches that have an id already keep it.
7. Spans are half open: a batch lies on a pile from `start` up to, not including, `end`.
"""

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime, time, timedelta
from enum import StrEnum
from zoneinfo import ZoneInfo

from monitor.model.settings import Pile
from monitor.model.words import Method
from monitor.model.work import Work, WorkKind
from monitor.model.work_kinds import GOING, is_turning


class BatchNews(StrEnum):
    """Kinds of changes to a batch."""

    BEGAN = "began"
    MOVED = WorkKind.MOVED.value
    SPLIT = WorkKind.SPLIT.value
    MERGED = WorkKind.MERGED.value
    ADDED_TO = "added to"
    ENDED = "ended"
    BEDDED = WorkKind.BEDDED.value


_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


def probes_left(work: Work) -> bool:
    """Return whether a move left the probes behind, by its note."""
    note = work.note.casefold()
    return any(words in note for words in ("probes left", "probe left", "left the probe"))


@dataclass(slots=True)
class Span:
    """A stretch of time on one pile; `end` is None while it lies there."""

    pile: str
    start: int
    end: int | None = None


@dataclass(slots=True)
class Bedding:
    """Material of a batch that became the bedding of a bin at an instant (UTC ms)."""

    time: int
    bin: str


@dataclass(slots=True)
class Batch:
    """One batch: the material itself.

    Attributes:
        batch: Its id.
        built: When it was built (a part split off keeps the building of the whole), UTC ms.
        rule: Rule of the pile where it was built.
        method: Method of that pile.
        spans: The piles on which it lay, oldest first.
        parent: The batch that it was split from, or "".
        merged_into: The batch that took it up, or "".
        ended: When it was gone, or None.
        bedding: The bins into which it, or a part of it, went.
    """

    batch: str
    built: int
    rule: str
    method: Method
    spans: list[Span] = field(default_factory=list)
    parent: str = ""
    merged_into: str = ""
    ended: int | None = None
    bedding: list[Bedding] = field(default_factory=list)


@dataclass(slots=True)
class BatchState:
    """All batches by id, the batch on each pile, and the piles on which a batch may no longer begin by itself.

    `emptied` has, by pile, the instants (UTC ms) at which people logged it emptied though no heap was known there.
    """

    batches: dict[str, Batch] = field(default_factory=dict)
    lying: dict[str, str] = field(default_factory=dict)
    settled: dict[str, bool] = field(default_factory=dict)
    emptied: dict[str, list[int]] = field(default_factory=dict)

    def says_empty(self, work: Work) -> bool:
        """Return whether an entry says that a pile was emptied on which no heap was known."""
        return work.kind is WorkKind.EMPTIED and work.time in self.emptied.get(work.place, ())

    def unsettle(self, pile: str) -> None:
        """Let a reading begin a heap on a pile again, if no heap ever lay there and nobody said that it was emptied."""
        if pile not in self.emptied and not any(
            span.pile == pile for batch in self.batches.values() for span in batch.spans
        ):
            self.settled.pop(pile, None)


@dataclass(frozen=True, slots=True, kw_only=True)
class BatchChange:
    """One change to a batch.

    Attributes:
        news: Kind of change.
        batch: The batch concerned: for a split the part that went away, for a merging the batch that was taken up,
            for an addition the batch that got more, for bedding the batch that it came from.
        pile: Its pile from then on (for an end: its last pile).
        at: When, UTC ms.
        other: The batch split from, merged into, or taken from; the bin that it went into; else "".
        came_from: The pile that it left, or "".
        turned: Whether this counts as a turning (of the moved batch, or of the batch that took another up by a move).
        probes_go: Whether the probes of the pile left go along.
    """

    news: BatchNews
    batch: str
    pile: str
    at: int
    other: str = ""
    came_from: str = ""
    turned: bool = False
    probes_go: bool = False


class BatchBook:
    """The bookkeeping; the state is changed in place."""

    __slots__ = ("_bins", "_piles", "_zone", "state")

    def __init__(
        self, state: BatchState, piles: Mapping[str, Pile], bins: Collection[str] = (), time_zone: str = "UTC"
    ) -> None:
        self.state = state
        self._piles = piles
        self._bins = bins
        self._zone = ZoneInfo(time_zone)

    def begin(self, pile: str, at: int) -> list[BatchChange]:
        """Begin a batch on a pile at `at` (`built` in the configuration or logged); a batch that lay there ends."""
        changes = self._end(pile, at)
        self._place(self._new(pile, at), pile, at)
        batch = self.state.lying[pile]
        return [*changes, BatchChange(news=BatchNews.BEGAN, batch=batch, pile=pile, at=at)]

    def heard(self, pile: str, at: int) -> list[BatchChange]:
        """Note that an accepted core reading of a pile has the time `at`: it may begin the pile's first batch."""
        # Rule 1: only on a pile that never had a batch nor was emptied does a reading alone prove that one lies there.
        if pile in self.state.settled or pile not in self._piles:
            return []
        return self.begin(pile, at)

    def apply(self, work: Work) -> list[BatchChange]:
        """Apply a piece of work and return the changes to batches; most kinds make none."""
        here = self.state.lying.get(work.place)
        if work.kind is WorkKind.BUILT and work.place in self._piles:
            if self.builds_again(work):
                return []
            return self.begin(work.place, work.time)
        if work.kind is WorkKind.ADDED and here is None and work.place in self._piles:
            return self.begin(work.place, work.time)
        if work.kind is WorkKind.EMPTIED and work.place in self._piles:
            self.state.settled[work.place] = True
            if here is None:
                self.state.emptied.setdefault(work.place, []).append(work.time)
            return self._end(work.place, work.time)
        return self._go(here, work) if work.kind in GOING and work.to != work.place else []

    def builds_again(self, work: Work) -> bool:
        """Return whether an entry `built` means the batch that lies there already.

        It does if that batch began at the same instant, or on that day of the yard by a configuration that names only the day.
        """
        here = self.on(work.place)
        if here is None or work.kind is not WorkKind.BUILT or here.spans[0].pile != work.place:
            return False
        of_the_day = here.built == self._piles[work.place].built and self._local(here.built).time() == time()
        same_day = self._local(work.time).date() == self._local(here.built).date()
        return here.built == work.time or (of_the_day and same_day)

    def on(self, pile: str) -> Batch | None:
        """Return the batch that lies on a pile now, or None."""
        batch = self.state.lying.get(pile)
        return None if batch is None else self.state.batches[batch]

    def at(self, pile: str, time: int) -> Batch | None:
        """Return the batch that lay on a pile at an instant, or None."""
        for batch in self.state.batches.values():
            for span in batch.spans:
                if span.pile == pile and span.start <= time and (span.end is None or time < span.end):
                    return batch
        return None

    def spans(self, batch: str) -> Iterator[tuple[str, int, int | None]]:
        """Yield (pile, start, end or None) of a batch, oldest first.

        Raises:
            KeyError: There is no such batch.
        """
        for span in self.state.batches[batch].spans:
            yield span.pile, span.start, span.end

    def _new(self, pile: str, at: int, like: Batch | None = None) -> Batch:
        day = self._local(at).date().isoformat()
        batch, count = f"{pile}-{day}", 1
        while batch in self.state.batches:
            count += 1
            batch = f"{pile}-{day}-{count}"
        settings = self._piles[pile]
        if like is None:
            made = Batch(batch=batch, built=at, rule=settings.rule, method=settings.method)
        else:
            made = Batch(batch=batch, built=like.built, rule=like.rule, method=like.method, parent=like.batch)
        self.state.batches[batch] = made
        return made

    def _local(self, at: int) -> datetime:
        return (_EPOCH + timedelta(milliseconds=at)).astimezone(self._zone)

    def _place(self, batch: Batch, pile: str, at: int) -> None:
        batch.spans.append(Span(pile, at))
        self.state.lying[pile] = batch.batch
        self.state.settled[pile] = True

    def _leave(self, pile: str, at: int) -> Batch | None:
        batch = self.state.lying.pop(pile, None)
        if batch is None:
            return None
        left = self.state.batches[batch]
        left.spans[-1].end = at
        return left

    def _end(self, pile: str, at: int) -> list[BatchChange]:
        left = self._leave(pile, at)
        if left is None:
            return []
        left.ended = at
        return [BatchChange(news=BatchNews.ENDED, batch=left.batch, pile=pile, at=at)]

    def _go(self, here: str | None, work: Work) -> list[BatchChange]:
        """Move a heap, or a part of one, to another place."""
        if here is not None and work.to in self._bins:
            return self._bed(here, work)
        if work.to not in self._piles:
            return []
        if here is None:
            return self._from_nowhere(work)
        return self._split(here, work) if work.kind is WorkKind.SPLIT else self._move(here, work)

    def _from_nowhere(self, work: Work) -> list[BatchChange]:
        """Take in material from a pile on which no batch is known to lie."""
        there = self.state.lying.get(work.to)
        if there is None:
            return self.begin(work.to, work.time)
        return [BatchChange(news=BatchNews.ADDED_TO, batch=there, pile=work.to, at=work.time)]

    def _bed(self, here: str, work: Work) -> list[BatchChange]:
        """Turn a heap, or a part of it, into the bedding of a bin."""
        batch = self.state.batches[here]
        batch.bedding.append(Bedding(work.time, work.to))
        bedded = BatchChange(news=BatchNews.BEDDED, batch=here, pile=work.place, at=work.time, other=work.to)
        return [bedded] if work.kind is WorkKind.SPLIT else [bedded, *self._end(work.place, work.time)]

    def _split(self, here: str, work: Work) -> list[BatchChange]:
        there = self.state.lying.get(work.to)
        if there is not None:
            return [BatchChange(news=BatchNews.ADDED_TO, batch=there, pile=work.to, at=work.time, other=here)]
        part = self._new(work.to, work.time, self.state.batches[here])
        self._place(part, work.to, work.time)
        return [BatchChange(
            news=BatchNews.SPLIT, batch=part.batch, pile=work.to, at=work.time, other=here, came_from=work.place,
        )]  # fmt: skip

    def _move(self, here: str, work: Work) -> list[BatchChange]:
        stays = probes_left(work)
        there = self.state.lying.get(work.to)
        moved = self._leave(work.place, work.time)
        assert moved is not None
        news = BatchNews.MOVED
        if there is None:
            self._place(moved, work.to, work.time)
        else:
            news, moved.ended, moved.merged_into = BatchNews.MERGED, work.time, there
        return [BatchChange(
            news=news, batch=here, pile=work.to, at=work.time, other=there or "", came_from=work.place,
            turned=is_turning(work), probes_go=not stays,
        )]  # fmt: skip
