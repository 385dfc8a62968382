"""Harvests in words and as JSON: what each yielded on dry matter, and what goes back where."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any
from zoneinfo import ZoneInfo

from monitor.app.beds.harvest_record import HarvestNow
from monitor.app.console.measures import Measures
from monitor.husbandry import REST_MS, Harvest, Screened, Share, dry_to
from monitor.model.harvest_names import WORMS, material_name
from monitor.model.settings import Settings
from monitor.model.times import DAY_MS, show_time
from monitor.model.work import Work
from monitor.model.work_kinds import FRACTIONS
from monitor.model.work_words import amount_said, work_said
from monitor.notices import say_date

_GOES = {"middle": "starts a new bed", "overs": "go back to a bed", WORMS: "that were picked out go back to a bed"}


@dataclass(frozen=True, slots=True)
class HarvestWords:
    """Words for harvests in a yard, by its settings and measures, as read at `now` (UTC ms)."""

    settings: Settings
    measures: Measures
    now: int

    def lines(self, one: HarvestNow) -> Iterator[str]:
        """Yield the lines of a harvest, without the cautions."""
        harvest, name = one.harvest, self.settings.place_name(one.harvest.work.place)
        yield f"{name}, harvest {harvest.id}: {self._head(one)}"
        if harvest.screenings:
            yield from self._screening(one)
        else:
            yield f"  Not screened yet. {self._dry_first(one)}"
        for work in harvest.returned:
            said = f"{amount_said(work) or 'an unknown amount'} of {material_name(work).partition('/')[2]}"
            yield f"  Went back: {said} into {self.settings.place_name(work.place)} on {self._day(work.time)}."
        if harvest.screenings:
            yield from self._goes_where(one)

    def stray(self, work: Work) -> str:
        """Return the line of a screening that belongs to no harvest."""
        why = f'"{work.what}" is no harvest' if work.what else "no harvest of that bin was logged before it"
        said = work_said(work, self.settings.place_name)
        when = self._day(work.time)
        right = f"`heaptender log list {work.place}` shows its number; put it right with --place or --what."
        return f"{self.settings.place_name(work.place)} on {when}, {said}: {why}, so it counts for none. {right}"

    def _day(self, at: int) -> str:
        return say_date(at, ZoneInfo(self.settings.site.time_zone), self.now)

    def _head(self, one: HarvestNow) -> str:
        mass = self.measures.mass
        if one.wet_g is None:
            amount = amount_said(one.harvest.work)
            said = f"{amount}, of unknown weight" if amount else "of unknown amount"
            return f"{said}. Weigh it next time: a volume says nothing of dry matter."
        if one.moisture_pct is None or one.figures.dry_g is None:
            return f"{mass(one.wet_g)}, its moisture not measured."
        return f"{mass(one.wet_g)} at {one.moisture_pct:g} % moisture, {mass(one.figures.dry_g)} of it dry matter."

    def _dry_first(self, one: HarvestNow) -> str:
        if one.moisture_pct is None:
            return "Dry it to 35 to 45 % moisture first: above 50 % it blinds the screen."
        aim = None if one.wet_g is None else dry_to(one.wet_g, one.moisture_pct)
        if one.moisture_pct <= 45:
            return "It is dry enough for the screen."
        weight = "" if aim is None else f" until it weighs {self.measures.mass(aim[0])} to {self.measures.mass(aim[1])}"
        return f"Dry it first{weight} (35 to 45 % moisture): above 50 % it blinds the screen."

    def _screening(self, one: HarvestNow) -> Iterator[str]:
        found, work = one.figures, one.harvest.screenings
        mass, parts = self.measures.mass, []
        if found.screen_g is not None:
            parts.append(mass(found.screen_g) + (" (worked out, not weighed)" if found.screen_derived else ""))
        if found.screen_pct is not None:
            derived = " (worked out, not measured)" if found.moisture_derived else ""
            parts.append(f"at {found.screen_pct:.3g} % moisture{derived}")
        goes = f", in {len(work)} goes" if len(work) > 1 else ""
        on = " ".join(parts) or "an unknown weight and moisture"
        yield f"  Screened on {self._day(work[-1].time)}{goes}: {on}."
        if found.dried_g is not None and not found.in_part:
            derived = ", worked out" if found.screen_derived else ""
            yield f"  {mass(found.dried_g)} of water dried off before{derived}."
        if found.blinds:
            yield "  That was above 50 %: the screen blinds, and fines go over with the rest. Dry it to 35 to 45 % first."
        if found.in_part and found.dry_screened is not None:
            part = f"{found.dry_screened * 100:.0f} % of the harvest's dry matter"
            yield f"  What went onto the screen holds {part}: the rest was not screened, was lost, or a figure is wrong."
        yield from self._shares(found, "harvest")

    def _shares(self, found: Screened, of: str) -> Iterator[str]:
        for name, share in found.shares.items():
            yield f"  {name.capitalize()}: {self.measures.mass(share.mass_g)}{_yields(share, of)}."
        if found.sum_off is not None and found.sum_is_off:
            more = "more" if found.sum_off > 0 else "less"
            yield (
                f"  Together that is {abs(found.sum_off) * 100:.0f} % {more} than went onto the screen: "
                "something was lost, left out or misread."
            )

    def _goes_where(self, one: HarvestNow) -> Iterator[str]:
        gone = {material_name(work).partition("/")[2] for work in one.harvest.returned}
        harvest, shares = one.harvest, one.figures.shares
        left = [name for name in _GOES if name not in gone and (name == WORMS or name in shares)]
        if left:
            where = "; ".join(f"{name} {_GOES[name]}" for name in left)
            log = f"heaptender log bedded BIN AMOUNT --what {harvest.id}/{left[0]}"
            yield f"  {where[:1].upper()}{where[1:]}. Log each with its weight: {log}"
        if one.again is not None:
            yield from self._again(harvest, one.again)
        elif (rest := one.rest_until) is not None:
            soonest, usually = (self._day(at) for at in rest)
            yield (
                f"  Fines may be called free of cocoons only after a rest, damp and with bait, until {soonest}, better "
                f"{usually}, and a second screening: cocoons are 2 to 4 mm, so many pass. Then: heaptender log screened "
                f"{harvest.work.place} AMOUNT --what {harvest.id}/fines"
            )

    def _again(self, harvest: Harvest, found: Screened) -> Iterator[str]:
        last = harvest.again[-1].time
        rested = last - harvest.screenings[-1].time if harvest.screenings else None
        short = ""
        if rested is not None and rested < REST_MS[0]:
            short = f": {max(0, rested // DAY_MS)} days of rest, too few to call them free of cocoons"
        yield f"  Its fines were screened again on {self._day(last)}{short}."
        yield from self._shares(found, "fines")
        if FRACTIONS[0] in found.shares:
            yield f"  What passed then is called {harvest.id}/fines/fines: heaptender lots make {harvest.id}/fines/fines"


def harvest_json(one: HarvestNow) -> dict[str, Any]:
    """Return a harvest as plain JSON: masses in kg, moistures in percent of wet mass, yields as shares."""
    work = one.harvest.work
    return {
        "harvest": one.harvest.id,
        "place": work.place,
        "time": show_time(work.time),
        "wet_kg": _kg(one.wet_g),
        "moisture_pct": one.moisture_pct,
        "dry_kg": _kg(one.figures.dry_g),
        "screening": _screened_json(one.figures) if one.harvest.screenings else None,
        "second_screening": None if one.again is None else _screened_json(one.again),
        "returned": [
            {"what": material_name(back).partition("/")[2], "to": back.place, "amount": amount_said(back)}
            for back in one.harvest.returned
        ],
    }


def _screened_json(found: Screened) -> dict[str, Any]:
    return {
        "on_screen_kg": _kg(found.screen_g),
        "on_screen_derived": found.screen_derived,
        "moisture_pct": None if found.screen_pct is None else round(found.screen_pct, 2),
        "moisture_derived": found.moisture_derived,
        "dried_kg": _kg(found.dried_g),
        "dry_screened_share": _share(found.dry_screened),
        "sum_off_share": _share(found.sum_off),
        "fractions": {
            name: {
                "kg": _kg(share.mass_g),
                "dry_kg": _kg(share.dry_g),
                "of_wet": _share(share.of_wet),
                "of_dry": _share(share.of_dry),
            }
            for name, share in found.shares.items()
        },
    }


def _yields(share: Share, of: str) -> str:
    parts = [f"{share.of_wet * 100:.0f} % of the wet {of}"] if share.of_wet is not None else []
    parts += [f"{share.of_dry * 100:.0f} % of the dry matter"] if share.of_dry is not None else []
    return f", {' and '.join(parts)}" if parts else ""


def _kg(grams: float | None) -> float | None:
    return None if grams is None else round(grams / 1000, 3)


def _share(share: float | None) -> float | None:
    return None if share is None else round(share, 4)
