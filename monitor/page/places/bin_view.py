"""Describes a worm bin: its two conditions, how warm and moist its bedding is, when it was fed."""

from monitor.model.units import show_percent
from monitor.model.words import Dampness, Thermal
from monitor.notices import By, say_span
from monitor.page.places.place_now import PlaceNow, empty_view
from monitor.page.places.place_view import PlaceView
from monitor.page.places.probe_view import last_heard


def bin_view(here: PlaceNow) -> PlaceView:
    """Return the view of a bin."""
    if here.watch.by is By.EMPTY or here.asked():
        return empty_view(here, "It was emptied; log bedding or food when worms live here again.")
    bed = here.engine.state.bins.get(here.place)
    thermal, damp = here.engine.conditions(here.place, here.now)
    fed = f"fed {say_span(here.now - bed.fed_at)} ago" if bed is not None and bed.fed_at is not None else ""
    said = ", ".join(line for line in (here.by_hand(), here.apart(), _warmth(here), _moisture(here), fed) if line)
    nothing = "Its probes are silent" if here.probes else "No probe sits here, and no reading by hand counts now"
    calm = thermal in (Thermal.COMFORT, Thermal.WARM, Thermal.COOL) and damp in (Dampness.COMFORT, Dampness.UNKNOWN)
    return PlaceView(
        place=here.place,
        is_bin=True,
        name=here.name,
        state=_state(here, thermal, damp),
        lines=(said or nothing,),
        needs=here.needs,
        off=not calm or not here.watch.known,
        known=here.watch.known,
        probes=here.probes,
    )


def _state(here: PlaceNow, thermal: Thermal, damp: Dampness) -> str:
    """Return both conditions in words; moisture only if it is off, or its probes are silent."""
    words = [thermal.value if thermal is not Thermal.UNKNOWN else "temperature unknown"]
    if damp is Dampness.UNKNOWN:
        words += ["moisture unknown"] if any(probe.damp for probe in here.probes) else []
    elif damp is not Dampness.COMFORT:
        words.append(damp.value)
    return ", ".join(words)


def _warmth(here: PlaceNow) -> str:
    """Return how warm the bedding is by its probes, or their last value; "" if there are no probes."""
    warm = [probe for probe in here.probes if probe.heat and probe.serves and probe.milli is not None]
    if not warm:
        return last_heard([probe for probe in here.probes if probe.heat], here.now)
    warm.sort(key=lambda probe: probe.milli or 0)
    low, high = warm[0].shown, warm[-1].shown
    shown = f"{low} in the bedding" if low == high else f"{low} to {high} in the bedding"
    if waits := [probe.counts_from for probe in warm if probe.counts_from is not None]:
        shown += f" (just back: counts again from {here.clock(max(waits))})"
    return shown


def _moisture(here: PlaceNow) -> str:
    """Return how moist the bedding is by its probes, or their last value; "" if there are no probes."""
    wet = [probe.milli for probe in here.probes if probe.damp and probe.serves and probe.milli is not None]
    return (
        f"{show_percent(max(wet))} moisture"
        if wet
        else last_heard([probe for probe in here.probes if probe.damp], here.now)
    )
