"""The yard as the page sees it: a copy of the running engine, and the journal beside it.

The engine belongs to the writer's thread. For a look, that thread dumps the state (some milliseconds), and the look restores
its own copy. Until the next commit the same dump serves every look. If the writer does not come round (a full disk), the last
dump serves, and the page says so.
"""

import queue
import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from functools import cached_property

from monitor.app.console.measures import Measures
from monitor.app.diary import Asked, diary
from monitor.app.entries.hand_log import hand_log
from monitor.app.entries.work_log import Entered, lately, work_log
from monitor.app.evening import air_ahead_words, forecasts_given
from monitor.app.loop.hub import Hub
from monitor.app.page_ports.page_coming import KeptComing
from monitor.app.page_ports.page_material import KeptMaterial, RecordMaterial
from monitor.app.page_ports.page_stock import stocked
from monitor.app.reporting import report_csv, report_of, report_sections
from monitor.app.seasons import BinDays, Gathering, HeapHeats, HeatLook, SeasonWords, heaps_of
from monitor.app.yard.yard_view import YardView
from monitor.configuration import Configuration
from monitor.diary import Due
from monitor.engine import Engine
from monitor.journal import Outcome, Store, open_reader
from monitor.material import MaterialRecord
from monitor.model.effects import Effect
from monitor.model.errors import UnavailableError
from monitor.model.flags import ACCEPTED
from monitor.model.readings import HandRead
from monitor.model.times import DAY_MS
from monitor.model.work_entry import is_us
from monitor.page import Column, Entry, Look, Material, SeasonShown, Stocked
from monitor.reports import Report, Section, Span

WAIT_S = 3.0
LATELY_MS = 30 * DAY_MS


class KeptSeasons:
    """The heaps and days worked out for the season's sheet; one for all looks, and any thread may use it."""

    def __init__(self, done: Callable[[], None] = lambda: None) -> None:
        """Begin without any; `done` is called from another thread when heaps that waited are worked out."""
        self.heaps, self.bins = HeapHeats(done), BinDays()


class DaemonYard:
    """Fills `monitor.page.Yard`: opens looks; any thread may call it."""

    def __init__(self, hub: Hub, configuration: Callable[[], Configuration]) -> None:
        self._hub = hub
        self._configuration = configuration
        self._folder = configuration().data
        self._changed = 0
        self._lock = threading.Lock()
        self._dump: tuple[int, bytes] | None = None
        self._material, self._coming, self._seasons = (
            KeptMaterial(),
            KeptComing(),
            KeptSeasons(lambda: hub.call(self._see)),
        )
        hub.committed.append(self._committed)

    def close(self) -> None:
        """Stop listening to the hub; for the writer's thread."""
        self._hub.committed.remove(self._committed)

    def changed(self) -> int:
        """Return a number that rises with each commit of events or effects."""
        return self._changed

    def now(self) -> int:
        """Return the daemon's time, UTC ms."""
        return self._hub.clock.now_ms()

    @contextmanager
    def look(self) -> Iterator[Look]:
        """Open a look.

        Raises:
            UnavailableError: The daemon never gave a state, or the journal cannot be read.
        """
        data, fresh = self._state()
        engine = Engine.restore(data)
        with open_reader(self._folder) as store, store.view():
            now = self.now() if fresh else engine.last
            yield JournalLook(
                engine,
                store,
                self._configuration(),
                now,
                fresh=fresh,
                kept=self._material,
                coming=self._coming,
                seasons=self._seasons,
            )

    def _committed(self, outcome: Outcome) -> None:
        if outcome.events or outcome.effects:
            self._changed += 1

    def _see(self) -> None:
        self._changed += 1

    def _state(self) -> tuple[bytes, bool]:
        # One dump at a time; looks that wait for the lock meanwhile share it.
        with self._lock:
            number = self._changed
            if self._dump is not None and self._dump[0] == number:
                return self._dump[1], True
            data = _on_writer(self._hub, self._snapshot)
            if data is not None:
                self._dump = (number, data)
                return data, True
            if self._dump is None:
                raise UnavailableError("The daemon does not answer yet; its log says why.")
            return self._dump[1], False

    def _snapshot(self) -> bytes:
        engine = self._hub.writer.engine
        assert isinstance(engine, Engine)
        return engine.snapshot()


def _standing(entered: Sequence[Entered]) -> list[Entry]:
    """Return the entries that were not taken back, in order of time."""
    standing = [Entry(one.at, one.work, one.row) for one in entered if one.work is not None]
    return sorted(standing, key=lambda entry: (entry.work.time, entry.at))


def _on_writer(hub: Hub, work: Callable[[], bytes]) -> bytes | None:
    """Return the result of work done on the writer's thread; None if it takes longer than `WAIT_S`."""
    answer: queue.SimpleQueue[bytes] = queue.SimpleQueue()
    hub.call(lambda: answer.put(work()))
    try:
        return answer.get(timeout=WAIT_S)
    except queue.Empty:
        return None


class JournalLook:
    """Fills `monitor.page.Look` from an open journal; valid inside the `with` that opened it."""

    def __init__(
        self,
        engine: Engine,
        store: Store,
        configuration: Configuration,
        now: int,
        *,
        fresh: bool = True,
        kept: KeptMaterial | None = None,
        coming: KeptComing | None = None,
        seasons: KeptSeasons | None = None,
    ) -> None:
        """Look at an open journal.

        Args:
            engine: A copy of the engine.
            store: The journal.
            configuration: The configuration in force.
            now: The daemon's time, UTC ms.
            fresh: Whether the writer answered in time.
            kept: What was read of the yard's material before; None: nothing.
            coming: What was worked out of the log before; None: nothing.
            seasons: The heaps and days worked out before; None: nothing.
        """
        self.engine = engine
        self.now = now
        self.fresh = fresh
        self._store = store
        self._configuration = configuration
        self._kept = kept or KeptMaterial()
        self._coming = coming or KeptComing()
        self._seasons = seasons or KeptSeasons()

    @property
    def order(self) -> Sequence[str]:
        """The ids of all piles and bins in the order of the configuration; those that it has lost come last."""
        settings, known = self.engine.state.settings, self._configuration.settings
        # The engine keeps its settings sorted by id, so it cannot say.
        rank = {place: number for number, place in enumerate((*known.piles, *known.bins))}
        return sorted((*settings.piles, *settings.bins), key=lambda place: rank.get(place, len(rank)))

    @property
    def fire_number(self) -> str:
        """The number of the fire service at the site; "" for none."""
        return self._configuration.fire_number

    @property
    def fire_address(self) -> str:
        """The yard's place in the words for the fire service; "" for none."""
        return self._configuration.fire_address

    def columns(self, probe: str, start: int, end: int) -> Sequence[Column]:
        """Return a probe's readings, one column for each unit.

        Args:
            probe: Name of the series.
            start: First instant, UTC ms.
            end: Last instant, inclusive, UTC ms.
        """
        return [Column(one.unit, one.time, one.micro) for one in self._store.columns(probe, start, end)]

    def dropped(self, probe: str, start: int, end: int) -> Sequence[int]:
        """Return the times of readings flagged as suspect or worse.

        Args:
            probe: Name of the series.
            start: First instant, UTC ms.
            end: Last instant, inclusive, UTC ms.
        """
        return [kept.time for kept in self._store.flags(probe, start, end) if kept.flag not in ACCEPTED]

    def effects(self, after: int, until: int, place: str | None = None) -> Sequence[Effect]:
        """Return effects in order.

        Args:
            after: Exclusive lower bound of `at`, UTC ms.
            until: Inclusive upper bound, UTC ms.
            place: Id of a place; None: all.
        """
        return list(self._store.effects(after, until, place))

    def works(self, place: str, after: int = 0) -> Sequence[Entry]:
        """Return the work of a place done later than `after` (UTC ms), in order of time."""
        works = self._lately if after >= self.now - LATELY_MS else self._all_works
        return [entry for entry in works if entry.work.time > after and place in (entry.work.place, entry.work.to)]

    @cached_property
    def _all_works(self) -> list[Entry]:
        return _standing(work_log(self._store))

    @cached_property
    def _lately(self) -> list[Entry]:
        """The work of the last weeks, read without the rest of the log: nobody enters work before it is done."""
        found = lately(self._store, self.now - LATELY_MS)
        return self._all_works if found is None else _standing(found)

    def air_ahead(self, *, names: bool) -> str:
        """Return the forecast of the air for tomorrow, else for today; "" for none.

        Args:
            names: Whether it may say who typed it in.
        """
        settings, entered = self.engine.state.settings, lately(self._store, self.now - LATELY_MS)
        given = forecasts_given(work_log(self._store) if entered is None else entered, settings)
        return air_ahead_words(given, settings, self.now, names=names)

    def authors(self) -> Sequence[str]:
        """Return the names beside pieces of work, each once, the one who wrote last first."""
        return list(dict.fromkeys(entry.work.by for entry in reversed(self._all_works) if entry.work.by))

    def diary(self, until: int) -> Sequence[Due]:
        """Return the things that fall due before `until` (UTC ms), in order."""
        return diary(self._asked(until))

    def coming(self, until: int) -> Sequence[Due]:
        """Return the things that fall due at piles and bins before `until` (UTC ms), in order."""
        return self._coming.of_places(self._asked(until))

    def _asked(self, until: int) -> Asked:
        return Asked(
            engine=self.engine, store=self._store, configuration=self._configuration, now=self.now, until=until,
            read=self._read_material,
        )  # fmt: skip

    def _read_material(self) -> MaterialRecord:
        view = YardView(self.engine, self._store, None, None, None, [])
        with self._kept.lock:
            return self._kept.read(view, self._configuration).record

    def calendar(self, until: int) -> bytes:
        """Return the things that fall due before `until` (UTC ms) as an iCalendar file."""
        # Imported here, since most yards never ask for it.
        from monitor.app.diary.diary_calendar import calendar_bytes  # noqa: PLC0415

        return calendar_bytes(self.diary(until), self.engine.state.settings, self.now)

    def stock(self) -> Sequence[Stocked]:
        """Return the materials in stock, what spoils first in front."""
        view = YardView(self.engine, self._store, None, None, None, [])
        with self._kept.lock:
            return stocked(self._kept.read(view, self._configuration).record, self._configuration)

    def material(self) -> Material:
        """Return the yard's material."""
        view = YardView(self.engine, self._store, None, None, None, [])
        return RecordMaterial(view, self._configuration, self.now, self._kept)

    def report(self, span: Span) -> Sequence[Section]:
        """Return the report of some days, in sections."""
        settings = self.engine.state.settings
        measures = Measures(is_us(settings), self._configuration.containers)
        return report_sections(self._report(span), settings, measures)

    def report_csv(self, span: Span) -> bytes:
        """Return the report of some days as a file for a spreadsheet."""
        return report_csv(self._report(span), us=is_us(self.engine.state.settings))

    def _report(self, span: Span) -> Report:
        return report_of(self.engine, self._store, self._configuration, span, self.now)

    def season(self, span: Span, piles: Sequence[str], bins: Sequence[str], heaps: range) -> SeasonShown:
        """Return some months: heaps beside each other by days since they were built, and bins by the day.

        Args:
            span: The months, from the first day of one to the last of another.
            piles: The places whose heaps are shown.
            bins: The bins that are shown.
            heaps: Which of these heaps are worked out, counted from the one built last.
        """
        view = YardView(self.engine, self._store, None, None, None, [])
        kept = (self._seasons.heaps, self._seasons.bins)
        heats = HeatLook(self.now)
        gathering = Gathering(view, self._configuration, self._read_material(), heats, kept)
        lay = heaps_of(view, span, piles)
        settings = self.engine.state.settings
        measures = Measures(is_us(settings), self._configuration.containers)
        words = SeasonWords(gathering.season(span, lay[heaps.start : heaps.stop], bins), settings, measures)
        shown = SeasonShown(heaps=words.heaps(), in_all=len(lay), bins=words.bins())
        self._seasons.heaps.work_out(self._configuration.source, heats)
        return shown

    def by_hand(self, place: str, after: int = 0) -> Sequence[HandRead]:
        """Return the newest readings of a place taken by hand later than `after` (UTC ms), in order of time."""
        return hand_log(self._store, place, after)
