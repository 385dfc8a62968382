"""A bed in words and as JSON: its depth and worms, and what it needs next, with the reasons."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any
from zoneinfo import ZoneInfo

from monitor.app.beds.bed_look import BedLook
from monitor.app.console.measures import Measures
from monitor.husbandry import (
    ALL_WORMS,
    AT_A_TIME_MM,
    BELOW_RIM_MM,
    CORES,
    KEEP_MM,
    LIFT_MM,
    MOST_G_MM2,
    Known,
    NextStep,
    Step,
    Stock,
)
from monitor.model.harvest_names import WORMS
from monitor.model.settings import Settings
from monitor.model.times import show_time
from monitor.model.words import BinKind
from monitor.notices import say_date

KINDS = {
    BinKind.FLOW: "a bed on a grate",
    BinKind.TRAYS: "a stack of trays",
    BinKind.TUB: "a tub",
    BinKind.DRAWER: "a drawer",
    BinKind.HALF_DRUM: "a half drum",
    BinKind.WINDROW: "a windrow",
}


@dataclass(frozen=True, slots=True)
class BedWords:
    """Words for beds in a yard: its settings and measures, and the present (UTC ms)."""

    settings: Settings
    measures: Measures
    now: int

    def lines(self, bed: BedLook) -> Iterator[str]:
        """Yield the lines of a bed, without its food."""
        parts = [KINDS[bed.build.kind]] if bed.build.kind is not None else []
        parts += [self.measures.area(bed.surface_mm2)] if bed.surface_mm2 is not None else []
        yield f"{', '.join([self.settings.place_name(bed.place), *parts])}: {self._depth(bed)}."
        if not bed.build.empty:
            yield f"  Worms: {self.worms(bed)}"
        yield f"  Next lift: {self.lift(bed)}."
        yield f"  Next harvest: {self.harvest(bed)}."
        if bed.residence_days is not None:
            yield f"  Food stays in it for about {bed.residence_days:.0f} days (its depth by the rate of its harvests)."

    def worms(self, bed: BedLook) -> str:
        """Return the worms of a bed, how that is known, and what harvests may have taken along."""
        return " ".join(self._worms(bed))

    def lift(self, bed: BedLook) -> str:
        """Return when a bed needs its next lift, and why, without a full stop."""
        lift, depth = self.measures.depth(LIFT_MM), self.measures.depth
        words = {
            Step.BEGIN: f"it is empty; begin with {lift} of damp bedding",
            Step.NO_RULE: "none; when the top tray is full, the next one goes on top of it",
            Step.NO_RIM: f'nobody can say without the height of its rim; configure it ([bins.{bed.place}] rim = "30 in")',
            Step.YOUNG: f"{self._from(bed.lift)}, {lift}: it has sunk far enough, but is younger than six weeks",
            Step.SUNK: f"now, {lift} of damp bedding, as {self._room(bed)}",
        }
        if bed.lift.by_mm is not None:
            sink = f"it must sink by {depth(bed.lift.by_mm)} first"
            words[Step.SINKING] = f"{self._from(bed.lift)} at the rate of its harvests, {lift}; {sink}"
            words[Step.HIGH] = f"not yet; {sink}"
        return words.get(bed.lift.step) or self._missing(bed, bed.lift)

    def harvest(self, bed: BedLook) -> str:
        """Return when a bed can be harvested next, and why, without a full stop."""
        thin, thick = (self.measures.depth(one) for one in AT_A_TIME_MM)
        from_on = self.measures.depth(KEEP_MM[0])
        words = {Step.BEGIN: "it is empty"}
        if bed.build.kind is BinKind.TRAYS:
            words[Step.NO_RULE] = "the lowest tray, once nothing in it can be told from soil"
        else:
            words[Step.NO_RULE] = "once its bedding can no longer be told from soil; no figure is known for its kind"
        if bed.harvest.by_mm is not None:
            words[Step.SHALLOW] = f"not yet; it must grow by {self.measures.depth(bed.harvest.by_mm)}, to {from_on}"
        if bed.harvest.due is not None:
            last = (
                f", by when it was last harvested ({self._day(bed.course.harvests[-1].time)})"
                if bed.course.harvests
                else ""
            )
            words[Step.DEEP] = (
                f"{self._from(bed.harvest)}, {thin} to {thick} from below{last}; it is {from_on} deep or more"
            )
        return words.get(bed.harvest.step) or self._missing(bed, bed.harvest)

    def _missing(self, bed: BedLook, step: NextStep) -> str:
        if step.step is Step.NO_KIND:
            return f'nobody can say without its kind; configure it ([bins.{bed.place}] kind = "flow")'
        example = "20 in" if self.measures.us else "50 cm"
        return f'nobody can say without its depth; measure it: heaptender log inspected {bed.place} --depth "{example}"'

    def _depth(self, bed: BedLook) -> str:
        depth, course = bed.build.depth_mm, bed.course
        if bed.build.empty:
            return "empty by the log"
        if depth is None:
            return "its depth is unknown"
        if course.depth_mm is None:
            how = "by the configuration"
        elif course.measured is None:
            how = "by the lifts and harvests in the log, not measured"
        else:
            how = f"as measured on {self._day(course.measured)}"
            how += ", with the lifts and harvests since" if course.moved_since else ""
        said = f"{self.measures.depth(depth)} deep {how}"
        if bed.build.rim_mm is not None and bed.build.rim_mm >= depth:
            said += f"; its top is {self.measures.depth(bed.build.rim_mm - depth)} below the rim"
        return said

    def _worms(self, bed: BedLook) -> Iterator[str]:
        stock, mass = bed.stock, self.measures.mass
        if stock is None:
            yield f"unknown. {self._sample(bed.place)}"
            return
        weight = stock.weight
        yield {
            Known.SAMPLED: f"about {mass(weight.usual)} by {stock.cores} sample{'s' * (stock.cores > 1)} on {self._at(stock)} "
            f"({mass(weight.least)} to {mass(weight.most)})",
            Known.WEIGHED: f"{mass(weight.usual)}, weighed on {self._at(stock)}",
            Known.BROUGHT: f"{mass(weight.usual)} by what was brought, never weighed since",
            Known.CONFIGURED: f"{mass(weight.usual)} by the configuration, of no known day",
        }[stock.known] + self._crowded(bed, stock)
        if stock.known is Known.SAMPLED and stock.cores < CORES:
            yield f"Take {CORES} samples, at different spots: fewer say little."
        if stock.lost_g > 0:
            lost = f"Harvests since took at most {mass(stock.lost_g)} of them along"
            yield f"{lost} (an estimate, as if they lay evenly; most stay near the food)."
        if stock.unweighed:
            yield "Some came or went that nobody weighed."
        if stock.known in (Known.CONFIGURED, Known.BROUGHT):
            yield self._sample(bed.place)

    def _crowded(self, bed: BedLook, stock: Stock) -> str:
        if not bed.surface_mm2:
            return "."
        said = f", {self.measures.stocking(stock.weight.usual, bed.surface_mm2)}"
        most = bed.surface_mm2 * MOST_G_MM2
        if stock.weight.usual <= most:
            return f"{said}."
        return f"{said}: more than {self.measures.mass(most)} is too many for it, so spread them to another bed."

    def _sample(self, place: str) -> str:
        spots = f"Weigh the worms under 1 ft² (30 cm by 30 cm) at {CORES} spots, and log each"
        amount = "15 oz" if self.measures.us else "400 g"
        log = f'heaptender log sampled {place} "{amount}" --what {WORMS} --spot west'
        return f'{spots}: {log} (or all of them, --what "{ALL_WORMS}").'

    def _room(self, bed: BedLook) -> str:
        depth, rim = bed.build.depth_mm or 0.0, bed.build.rim_mm
        if bed.build.kind is BinKind.WINDROW or rim is None:
            return f"it is {self.measures.depth(depth)} deep and may be {self.measures.depth(KEEP_MM[1])}"
        return f"its top is {self.measures.depth(rim - depth)} below the rim ({self.measures.depth(BELOW_RIM_MM)} is enough)"

    def _from(self, step: NextStep) -> str:
        if step.due is None:
            return "not yet"
        return "now" if step.due <= self.now else f"from {self._day(step.due)} on"

    def _at(self, stock: Stock) -> str:
        return "an unknown day" if stock.at is None else self._day(stock.at)

    def _day(self, at: int) -> str:
        return say_date(at, ZoneInfo(self.settings.site.time_zone), self.now)


def bed_json(bed: BedLook) -> dict[str, Any]:
    """Return a bed as plain JSON: masses in kg, lengths in mm, times in UTC."""
    stock = bed.stock
    return {
        "place": bed.place,
        "kind": None if bed.build.kind is None else bed.build.kind.value,
        "surface_m2": None if bed.surface_mm2 is None else round(bed.surface_mm2 / 1e6, 3),
        "depth_mm": _rounded(bed.build.depth_mm),
        "depth_measured": None if bed.course.measured is None else show_time(bed.course.measured),
        "worms": None
        if stock is None
        else {
            "known": stock.known.value,
            "kg": round(stock.weight.usual / 1000, 3),
            "least_kg": round(stock.weight.least / 1000, 3),
            "most_kg": round(stock.weight.most / 1000, 3),
            "time": None if stock.at is None else show_time(stock.at),
            "samples": stock.cores,
            "lost_at_most_kg": round(stock.lost_g / 1000, 3),
        },
        "lift": _step_json(bed.lift),
        "harvest": _step_json(bed.harvest),
        "residence_days": _rounded(bed.residence_days),
    }


def _step_json(step: NextStep) -> dict[str, Any]:
    due = None if step.due is None else show_time(step.due)
    return {"reason": step.step.value, "due": due, "by_mm": _rounded(step.by_mm)}


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 1)
