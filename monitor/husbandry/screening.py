"""A harvest dried and screened, worked out on dry matter: water comes and goes, dry matter stays.

1. Something of the moisture M1 that is brought to M2 weighs m2 = m1 (100 - M1) / (100 - M2).
2. The fractions are taken to be as moist as what went onto the screen; their yields are shares of the wet harvest and of dry
   matter.
3. What was not weighed is derived where it can be, and marked: the weight on the screen from the harvest and both moistures,
   or the moisture on the screen from both weights.
4. A sum of the fractions that is off by more than 5 % is told, for then something was lost, left out or misread.

Source: dry to 35 to 45 % before screening, above 50 % the screen blinds; fines rest damp for four to six weeks with bait, as
cocoons (2 to 4 mm) pass 1/8 in too: common practice, no published source; the size of cocoons is from memory.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from monitor.model.times import DAY_MS

DRY_TO_PCT = (35.0, 45.0)
BLINDS_PCT = 50.0
SUM_OFF, DRY_OFF = 0.05, 0.15
REST_MS = (28 * DAY_MS, 42 * DAY_MS)
"""How long fines rest with bait before they are screened again, at least and usually, ms."""


def mass_at(mass_g: float, moisture_pct: float, other_pct: float) -> float:
    """Return the mass of something once it has another moisture.

    Args:
        mass_g: Its mass now, in grams.
        moisture_pct: Its moisture now, percent of wet mass.
        other_pct: The other moisture, below 100.

    Raises:
        ValueError: Nothing that holds dry matter is all water.
    """
    if other_pct >= 100:
        raise ValueError("at 100 % moisture there is no dry matter, so nothing can be brought to it")
    return mass_g * (100 - moisture_pct) / (100 - other_pct)


@dataclass(frozen=True, slots=True, kw_only=True)
class OnScreen:
    """One go on the screen; None where nobody measured.

    Attributes:
        mass_g: The mass put on the screen.
        moisture_pct: Its moisture, percent of wet mass.
        fractions: The mass of each fraction that was weighed, in grams.
    """

    mass_g: float | None = None
    moisture_pct: float | None = None
    fractions: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Share:
    """A fraction: its mass, its dry matter (grams), and its shares of the wet harvest and of dry matter; None if unknown."""

    mass_g: float
    dry_g: float | None
    of_wet: float | None
    of_dry: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Screened:
    """A harvest and its screening, worked out; None where it cannot be known.

    Attributes:
        dry_g: The dry matter of the harvest.
        screen_g: The mass put on the screen.
        screen_derived: Whether that mass was not weighed but follows from the moistures.
        screen_pct: The moisture on the screen, percent of wet mass.
        moisture_derived: Whether that moisture was not measured but follows from the weights.
        dried_g: The water lost between harvest and screen.
        dry_screened: The share of the harvest's dry matter that went onto the screen, where both were measured.
        sum_off: By how much the fractions together exceed what was put on the screen, as a share of it.
        shares: The fractions.
    """

    dry_g: float | None
    screen_g: float | None
    screen_derived: bool
    screen_pct: float | None
    moisture_derived: bool
    dried_g: float | None
    dry_screened: float | None
    sum_off: float | None
    shares: Mapping[str, Share]

    @property
    def sum_is_off(self) -> bool:
        """Whether the fractions do not add up."""
        return self.sum_off is not None and abs(self.sum_off) > SUM_OFF

    @property
    def in_part(self) -> bool:
        """Whether what went onto the screen cannot be all of the harvest, nor only that."""
        return self.dry_screened is not None and abs(self.dry_screened - 1) > DRY_OFF

    @property
    def blinds(self) -> bool:
        """Whether it was too wet for the screen."""
        return self.screen_pct is not None and self.screen_pct > BLINDS_PCT


def together(goes: Sequence[OnScreen]) -> OnScreen:
    """Return several goes on the screen as one; a mass that is missing in one of several leaves the sum unknown."""
    if len(goes) == 1:
        return goes[0]
    masses = [one.mass_g for one in goes if one.mass_g is not None]
    whole = sum(masses) if masses and len(masses) == len(goes) else None
    moistures = {one.moisture_pct for one in goes}
    moisture = moistures.pop() if len(moistures) == 1 else None
    if moisture is None and whole and None not in moistures:
        moisture = sum((one.mass_g or 0) * (one.moisture_pct or 0) for one in goes) / whole
    # A fraction counts only where every go weighed it.
    names = [name for name in (goes[0].fractions if goes else ()) if all(name in one.fractions for one in goes)]
    fractions = {name: sum(one.fractions[name] for one in goes) for name in names}
    return OnScreen(mass_g=whole, moisture_pct=moisture, fractions=fractions)


def screened(mass_g: float | None, moisture_pct: float | None, screen: OnScreen, parts: int = 3) -> Screened:
    """Return a harvest and its screening on dry matter.

    Args:
        mass_g: The mass of the harvest as it came out of the bed, in grams; None if unknown.
        moisture_pct: Its moisture, percent of wet mass; None if unknown.
        screen: What was put on the screen and what came of it.
        parts: How many fractions there are in all; only then can their sum be held against the whole.
    """
    dry = None if mass_g is None or moisture_pct is None else mass_g * (100 - moisture_pct) / 100
    on, on_pct = screen.mass_g, screen.moisture_pct
    if on is None and dry is not None and on_pct is not None and on_pct < 100:
        on = dry * 100 / (100 - on_pct)
    if on_pct is None and dry is not None and screen.mass_g and screen.mass_g >= dry:
        on_pct = 100 - dry / screen.mass_g * 100
    measured = screen.mass_g is not None and screen.moisture_pct is not None
    dry_on = None if on is None or on_pct is None else on * (100 - on_pct) / 100
    total = sum(screen.fractions.values())
    return Screened(
        dry_g=dry,
        screen_g=on,
        screen_derived=on is not None and screen.mass_g is None,
        screen_pct=on_pct,
        moisture_derived=on_pct is not None and screen.moisture_pct is None,
        dried_g=None if mass_g is None or on is None else mass_g - on,
        dry_screened=dry_on / dry if measured and dry and dry_on is not None else None,
        sum_off=(total - on) / on if on and len(screen.fractions) == parts else None,
        shares={name: _share(mass, mass_g, dry_on, on_pct) for name, mass in screen.fractions.items()},
    )


def _share(mass_g: float, wet_g: float | None, dry_on_g: float | None, on_pct: float | None) -> Share:
    dry = None if on_pct is None else mass_g * (100 - on_pct) / 100
    return Share(
        mass_g=mass_g,
        dry_g=dry,
        of_wet=mass_g / wet_g if wet_g else None,
        of_dry=dry / dry_on_g if dry is not None and dry_on_g else None,
    )


def dry_to(mass_g: float, moisture_pct: float) -> tuple[float, float] | None:
    """Return the masses (least, most) at which something is dry enough to screen; None if it is so already."""
    low, high = DRY_TO_PCT
    return None if moisture_pct <= high else (mass_at(mass_g, moisture_pct, low), mass_at(mass_g, moisture_pct, high))
