"""The kinds of requirement that a rule is made of, as plain values; each is given its meaning where it is judged.

| kind | judged in `judging` by |
|---|---|
| `Run`, `Total`, `RunBeforeTurnings` | `durations` |
| `Days` | `days` |
| `Window` with `Within` and `Mean` | `windows` |
| `Constant` | `constant` |

All but `Window` and `Constant` can be followed while a batch is watched (`Followed`).
"""

from dataclasses import dataclass, replace

from monitor.model.times import DAY_MS, HOUR_MS


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """Between which temperatures an instant satisfies a rule.

    Attributes:
        low_milli_c: Lower limit, thousandths of a degree Celsius; included unless `strict`.
        high_milli_c: Upper limit, always included, or None where the rule states none.
        strict: Whether the rule says above (or exceeds) where others say at or above.
        low_text, high_text: The limits as the rule writes them, for people.
    """

    low_milli_c: int
    high_milli_c: int | None = None
    strict: bool = False
    low_text: str = ""
    high_text: str = ""

    def guarded(self, guard_milli_k: int) -> "Limits":
        """Return these limits drawn in by a guard band on both sides, thousandths of a kelvin."""
        high = None if self.high_milli_c is None else self.high_milli_c - guard_milli_k
        return replace(self, low_milli_c=self.low_milli_c + guard_milli_k, high_milli_c=high)

    @property
    def hopeless(self) -> bool:
        """Whether no temperature at all is within these limits (a guard band can bring that about)."""
        if self.high_milli_c is None:
            return False
        return self.high_milli_c < self.low_milli_c or (self.strict and self.high_milli_c == self.low_milli_c)


@dataclass(frozen=True, slots=True, kw_only=True)
class Turnings:
    """The number of turnings that a part asks for within the span that satisfies its duration.

    Attributes:
        count: At least so many.
        apart_ms: Each at least so long after the one before it that was counted, ms.
    """

    count: int
    apart_ms: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """One unbroken interval of at least `duration_ms`; its span is that interval."""

    duration_ms: int
    turnings: Turnings | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Total:
    """At least `duration_ms` in all; its span runs from the first hold instant to the last."""

    duration_ms: int
    turnings: Turnings | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Days:
    """So many days (24 h blocks) as the design's rule evaluation counts them.

    Its span runs from the start of the first day that counts to the last hold instant.

    Attributes:
        count: At least so many days.
        consecutive: Whether they must follow one another: a day that cannot count sets the count back to nothing. So it is
            unless the rule's text says that they need not.
        turnings: Turnings wanted within the span.
        day_ms, least_ms, dark_ms: Length of a day, what of it must be in the hold, what of it may be unproven outside
            recovery; recovery_ms, onset_ms: longest recovery after a turning, and how long the hold may run on after one
            before there is nothing to recover from. The rule files cannot change these, tests do.
        recovery_share: Recovery may stand for one part in so many of the days that are asked for (`recovery_share`).
    """

    count: int
    consecutive: bool = False
    turnings: Turnings | None = None
    day_ms: int = DAY_MS
    least_ms: int = 12 * HOUR_MS
    dark_ms: int = 2 * HOUR_MS
    recovery_ms: int = DAY_MS
    onset_ms: int = 2 * HOUR_MS
    recovery_share: int = 4

    @property
    def recovery_in_all_ms(self) -> int:
        """For how much of the days that count recovery may stand, ms."""
        return self.count * self.day_ms // self.recovery_share


@dataclass(frozen=True, slots=True, kw_only=True)
class RunBeforeTurnings:
    """At least `count` turnings, each after an unbroken interval of `duration_ms` since the turning before it."""

    duration_ms: int
    count: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Mean:
    """A mean temperature over the whole of a window, at or above (`strict`: above) `low_milli_c`.

    Attributes:
        low_milli_c: Thousandths of a degree Celsius.
        strict: Whether it must be above.
        text: The temperature as the rule writes it.
    """

    low_milli_c: int
    strict: bool = False
    text: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Within:
    """One thing wanted within a window.

    Attributes:
        part: What.
        limits: Its own limits, or None for those of the alternative (a mean has none).
    """

    part: Run | Total | Mean
    limits: Limits | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """Several things, all within one and the same stretch of `span_ms`."""

    span_ms: int
    within: tuple[Within, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Constant:
    """An unbroken interval at or above some t for at least D(t) = numerator / 10^(per degree * t), and no less than a floor.

    The t may be any temperature from the alternative's lower limit on.

    Attributes:
        numerator_days: Numerator of D, days.
        per_degree_milli: What multiplies t (in degrees Celsius) in the exponent, thousandths.
        floor_ms: Least duration whatever the temperature, ms.
        below_ms: Only temperatures whose D is shorter than this count, ms; or None.
    """

    numerator_days: int
    per_degree_milli: int
    floor_ms: int
    below_ms: int | None = None


Part = Run | Total | Days | RunBeforeTurnings | Window | Constant
"""Every kind of part that an alternative may have."""

Followed = Run | Total | Days | RunBeforeTurnings
"""The kinds that can be followed while a batch is watched: one set of limits is enough to tell."""


def turnings_of(part: Part) -> Turnings | None:
    """Return the turnings that a part wants within its span, or None."""
    return part.turnings if isinstance(part, Run | Total | Days) else None


def needed_turnings(part: Part) -> int:
    """Return how many turnings a part asks for."""
    if isinstance(part, RunBeforeTurnings):
        return part.count
    wanted = turnings_of(part)
    return 0 if wanted is None else wanted.count


def turnings_apart(part: Part) -> int:
    """Return how long after one turning a part counts the next, ms; 0 where it does not say."""
    if isinstance(part, RunBeforeTurnings):
        return part.duration_ms
    wanted = turnings_of(part)
    return 0 if wanted is None else wanted.apart_ms


def wants_turnings(part: Part) -> bool:
    """Return whether a part asks for turnings at all."""
    return isinstance(part, RunBeforeTurnings) or turnings_of(part) is not None
