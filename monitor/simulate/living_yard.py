"""The demo's yard alive: weather, three piles and three bins moved through time, and the samples of their probes.

Rules:
 1. Time only runs forward. `stream` first lets time pass silently to its start; a later call goes on from there.
 2. The same seed and the same calls give the same samples, to the last digit.
 3. The work log is the script: each entry both changes the world (turned, watered, fed …) and can be handed to the
    engine as it stands.
"""

from collections.abc import Callable, Iterator
from random import Random

from monitor.model.settings import AMBIENT
from monitor.model.times import MINUTE_MS
from monitor.model.work import Work, WorkKind
from monitor.simulate import script
from monitor.simulate.hot_pile import Heap
from monitor.simulate.laws import AMBIENT_O2, TAP_C
from monitor.simulate.layout import NODE_MS, SPOTS, Spot, settings_text
from monitor.simulate.material import Mix
from monitor.simulate.probe_errors import Probe, Sample
from monitor.simulate.season_yard import DETAILS, FURTHER
from monitor.simulate.weather import Air, Climate, Weather
from monitor.simulate.worm_bin import Bed, Bedding, Box

_STEP_MS = 10 * MINUTE_MS
_BAY_M = 2.0

_MIXES = {
    "p1": Mix(wet_kg=3_000.0, moisture=0.60, celsius=24.0, activity=0.055),
    "p2": Mix(wet_kg=3_000.0, moisture=0.61, celsius=22.0),
    "p3": Mix(wet_kg=4_000.0, moisture=0.60, fast=0.28, celsius=18.0),
}


def _beds() -> dict[str, Bed]:
    return {
        "b1": Bed(
            Box(length_m=0.8, width_m=0.45, depth_m=0.28, facing_deg=200.0, sunlit=0.8, side_w_m2k=3.4, lid_w_m2k=2.6),
            Bedding(wet_kg=58.0, moisture=0.75),
        ),
        "b2": Bed(Box(sunlit=0.0, damping=0.6), Bedding(wet_kg=90.0, moisture=0.76)),
        "b3": Bed(Box(sunlit=0.08, holds=7.5, drain_h=60.0), Bedding(wet_kg=100.0, moisture=0.81)),
    }


class Yard:
    """Tern Hollow allotments from 9 May 2026 on.

    Attributes:
        now: The world's present, UTC ms.
        works: The whole work log, in the order of time.
    """

    def __init__(self, seed: int = 1) -> None:
        """Set the yard up in the state in which Bay 3 was built."""
        rng = Random(seed)
        self.now = script.HISTORY_START
        self.works = script.WORKS
        self.weather = Weather(Climate(), Random(rng.getrandbits(64)), self.now, script.SPELLS)
        self.heaps: dict[str, Heap] = {}
        self.beds = _beds()
        faults = script.faults()
        self._probes = {
            spot.name: Probe(spot.name, spot.make, Random(rng.getrandbits(64)), faults[spot.name]) for spot in SPOTS
        }
        self._done = 0

    @staticmethod
    def settings(*, url: str | None = None, data: str = "data", port: int | None = None, contacts: bool = True) -> str:
        """Write the yard's configuration as TOML; see `layout.settings_text`. The log says when its heaps were built.

        Args:
            url: Address of the serial link, or None to leave the link out.
            data: Folder of the journal.
            port: Port of the page, or None for its default.
            contacts: Whether to include the two people of the demo.

        Returns:
            The text of the file.
        """
        return settings_text({}, url=url, data=data, port=port, contacts=contacts, details=DETAILS, further=FURTHER)

    def work(self, start: int, end: int) -> list[Work]:
        """Return the work done in `start` <= time < `end`."""
        return [work for work in self.works if start <= work.time < end]

    def stream(self, start: int, end: int, step_s: int = 600) -> Iterator[Sample]:
        """Let time pass and sample all probes.

        Args:
            start: First instant, UTC ms.
            end: First instant no longer sampled, UTC ms.
            step_s: Seconds between two samples of a probe.

        Returns:
            The samples in order of time.

        Raises:
            ValueError: The world is already past `start`, or the step is not positive.
        """
        if start < self.now:
            raise ValueError(f"the yard has already lived to {self.now}; make a new one to go back to {start}")
        if step_s <= 0:
            raise ValueError(f"step_s is {step_s}; it must be above 0")
        return self._stream(start, end, step_s * 1_000)

    def _stream(self, start: int, end: int, step_ms: int) -> Iterator[Sample]:
        first = -(-start // step_ms) * step_ms
        for instant in range(first, end, step_ms):
            self.march(instant)
            air = self.weather.at(instant)  # nodes are only seconds apart, and the weather does not change in seconds
            for spot in SPOTS:
                time = instant + min(NODE_MS[spot.place], step_ms - 1)
                sample = self._ask(spot, time, air) if time < end else None
                if sample is not None:
                    yield sample
        self.march(max(self.now, end))

    def march(self, to: int) -> None:
        """Let the world go on until `to`, doing the work on the way."""
        while True:
            due = self.works[self._done].time if self._done < len(self.works) else to + 1
            target = min(due, to)
            while self.now < target:
                span = min(_STEP_MS, target - self.now)
                air = self.weather.at(self.now + span // 2)
                for heap in self.heaps.values():
                    heap.step(span / 1_000.0, air)
                for bed in self.beds.values():
                    bed.step(span / 1_000.0, air)
                self.now += span
            if due > to:
                return
            self._do(self.works[self._done])
            self._done += 1

    def true_value(self, spot: Spot, air: Air) -> float | None:
        """Return the true value at a probe's spot now, in the probe's unit, or None if no batch lies there yet."""
        if spot.place == AMBIENT:
            return air.celsius
        if spot.place in self.beds:
            bed = self.beds[spot.place]
            return bed.at(spot.share) if spot.make.quantity == "temperature" else 100.0 * bed.moisture_at(spot.share)
        heap = self.heaps.get(spot.place)
        if heap is None:
            return None
        if spot.make.quantity == "temperature":
            return air.celsius + spot.excess * (heap.at_depth(spot.depth_m, air) - air.celsius)
        return (
            100.0 * heap.moisture_at(spot.depth_m) if spot.make.quantity == "moisture" else heap.oxygen_at(spot.depth_m)
        )

    def _ask(self, spot: Spot, time: int, air: Air) -> Sample | None:
        true = self.true_value(spot, air)
        outside = {"temperature": air.celsius, "moisture": 2.0, "oxygen": AMBIENT_O2}[spot.make.quantity]
        return None if true is None else self._probes[spot.name].sample(time, true, outside)

    def _do(self, work: Work) -> None:
        if work.kind is WorkKind.BUILT:
            self.heaps[work.place] = Heap(_MIXES[work.place], _BAY_M, _BAY_M)
        elif work.place in self.heaps:
            _work_heap(self.heaps[work.place], work, self.weather.at(self.now))
        else:
            do = _BED_WORK.get(work.kind)
            if do is not None:
                do(self.beds[work.place], float(work.amount or 0), self.weather.at(self.now))


def _work_heap(heap: Heap, work: Work, air: Air) -> None:
    if work.kind is WorkKind.TURNED:
        heap.turn(air)
    elif work.kind is WorkKind.WATERED:
        heap.water(float(work.amount), TAP_C)


_BED_WORK: dict[WorkKind, Callable[[Bed, float, Air], None]] = {
    WorkKind.FED: lambda bed, kg, air: bed.feed(kg, air.celsius),
    WorkKind.BEDDED: lambda bed, kg, air: bed.bed_down(kg, air.celsius),
    WorkKind.WATERED: lambda bed, litres, _air: bed.water(litres, TAP_C),
    # Lid off under wet sacking: hardly any sun, and vapour gets out four times as easily.
    WorkKind.COVERED: lambda bed, _amount, _air: bed.cover(0.2, 4.0),
}
