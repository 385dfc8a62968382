"""One place at one moment: the data for its view, and the lines that piles and bins share."""

from dataclasses import dataclass
from functools import cached_property
from zoneinfo import ZoneInfo

from monitor.engine import Engine, is_of_another_heap, last_read, why_not_held
from monitor.notices import PlaceWatch, read_words, say_time
from monitor.page.places.needs import Need, name_of
from monitor.page.places.place_view import PlaceView
from monitor.page.places.probe_view import ProbeView, probes_at


@dataclass(frozen=True, kw_only=True)
class PlaceNow:
    """One place at one moment.

    Attributes:
        engine: The engine of the look.
        watch: How the place is watched.
        needs: The needs there, the most urgent first.
        now: The moment, UTC ms.
        names: Whether people may be named.
    """

    engine: Engine
    watch: PlaceWatch
    needs: tuple[Need, ...]
    now: int
    names: bool

    @property
    def place(self) -> str:
        """Its id."""
        return self.watch.place

    @property
    def is_bin(self) -> bool:
        """Whether it is a bin."""
        return self.place in self.engine.state.settings.bins

    @property
    def name(self) -> str:
        """Its name, safe for one line."""
        return name_of(self.engine, self.place)

    @cached_property
    def probes(self) -> tuple[ProbeView, ...]:
        """Its probes, by id."""
        return tuple(probes_at(self.engine, self.place, self.now))

    def clock(self, at: int) -> str:
        """Return an instant (UTC ms) in people's words."""
        return say_time(at, self.now, ZoneInfo(self.engine.state.settings.site.time_zone))

    def by_hand(self) -> str:
        """Return the last reading by hand, as `status` does: `145 °F by hand, Ann, 3 h ago, coldest of 4`; "" for none."""
        state, place = self.engine.state, self.place
        last = last_read(state.hands, place)
        if last is None or is_of_another_heap(last, state.batches, place):
            return ""
        empty = place in state.settings.piles and place not in state.batches.lying
        why_not = "" if last.held else why_not_held(state.hands, place, self.now, empty=empty)
        by = last.by if self.names else ""
        return read_words(
            state.settings, place, (last.low, last.high), last.spots, by, self.now - last.time, why_not=why_not
        )

    def apart(self) -> str:
        """Return how a reading by hand differs from a probe of the place; "" if they agree."""
        return self.engine.apart(self.place, self.now).partition(": ")[2]

    def asked(self) -> str:
        """Return the question about a place that is empty by the log but reads warm; "" for none."""
        if self.watch.why != "not empty":
            return ""
        asked = self.engine.empty_yet_warm(self.place, self.now).partition(": ")[2]
        return f"{sentence(asked)}." if asked else ""


def sentence(words: str) -> str:
    """Return words with a capital letter."""
    return words[:1].upper() + words[1:]


def empty_view(here: PlaceNow, words: str) -> PlaceView:
    """Return the view of an empty place; `words` say what to log when something lies here again."""
    asked = here.asked()
    return PlaceView(
        place=here.place,
        is_bin=here.is_bin,
        name=here.name,
        state="empty by the log" if asked else "empty",
        lines=tuple(line for line in (asked or words, here.by_hand()) if line),
        needs=here.needs,
        off=bool(asked),
        known=here.watch.known,
        probes=here.probes,
    )
