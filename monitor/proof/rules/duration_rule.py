"""Rules of duration: how long, in which beds, how moist and in which layers material must lie with worms.

They are declared in TOML files of their own, in the folder `durations`, and read with the same table as the rules of time and
temperature. `monitor.durations` holds a lot against one.
"""

from dataclasses import dataclass
from importlib.resources import files

from monitor.model.errors import ConfigurationError, MisuseError
from monitor.model.words import BinKind
from monitor.proof.rules.declared_rule import Condition, Status
from monitor.proof.rules.rule_conditions import condition_of
from monitor.proof.rules.rule_table import Table, one_of, table_of_text

_FOLDER = "monitor.proof.rules"
_TEXTS = ("title", "jurisdiction", "section", "wording", "source")


@dataclass(frozen=True, slots=True)
class BedDuration:
    """The least time in some kinds of beds.

    Attributes:
        kinds: The kinds of beds.
        months: The least time in calendar months; 0 where it is in days.
        days: The same in days of 24 h; 0 where it is in months.
        indoors: Whether it holds for beds indoors alone (True), outdoors alone (False), or for all (None).
    """

    kinds: tuple[BinKind, ...]
    months: int = 0
    days: int = 0
    indoors: bool | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class DurationRule:
    """A rule of duration.

    Attributes:
        id: Its id.
        title, jurisdiction, section, wording, source: As the rule file says them.
        status: The source of its figures.
        low_milli_pct, high_milli_pct: The range of moisture, thousandths of a percent of wet mass; both ends belong to it.
        moisture_every_ms: The longest time between two readings of it, ms.
        layer_mm: The thickest layer, mm.
        declared: What the record cannot say and a person declares.
        beds: The least times.
    """

    id: str
    title: str
    jurisdiction: str
    section: str
    wording: str
    source: str
    status: Status
    low_milli_pct: int
    high_milli_pct: int
    moisture_every_ms: int
    layer_mm: int
    declared: tuple[Condition, ...]
    beds: tuple[BedDuration, ...]

    @property
    def for_information(self) -> bool:
        """Whether its figures are unchecked, so that it decides nothing until a named person has confirmed it."""
        return self.status is Status.MEMORY


def duration_rule_ids() -> tuple[str, ...]:
    """Return the ids of the rules of duration that come with the program, in order."""
    names = (entry.name for entry in files(_FOLDER).joinpath("durations").iterdir())
    return tuple(sorted(name.removesuffix(".toml") for name in names if name.endswith(".toml")))


def load_duration_rule(rule_id: str) -> DurationRule:
    """Return a rule of duration that comes with the program.

    Raises:
        MisuseError: There is no such rule.
        ConfigurationError: Its file is bad.
    """
    if rule_id not in duration_rule_ids():
        raise MisuseError(f"There is no rule of duration {rule_id!r}; there are {', '.join(duration_rule_ids())}.")
    text = files(_FOLDER).joinpath("durations", f"{rule_id}.toml").read_text("utf-8")
    return parse_duration_rule(text, f"{rule_id}.toml", rule_id)


def parse_duration_rule(text: str, file: str, rule_id: str) -> DurationRule:
    """Return the rule of duration that a TOML text describes.

    Args:
        text: The whole file.
        file: Its name, for the sentences.
        rule_id: Id of the rule.

    Raises:
        ConfigurationError: The file is bad; one sentence for each fault found.
    """
    faults: list[str] = []
    table = table_of_text(text, file, faults)
    said = table.texts(_TEXTS)
    status = table.tried(lambda: table.word("status", Status))
    moisture = table.tried(lambda: _moisture(table.table("moisture")))
    layer = table.tried(lambda: _layer(table.table("layers")))
    declared = table.tried(lambda: tuple(condition_of(one) for one in table.tables("declared")))
    beds = table.tried(lambda: tuple(_bed(one) for one in table.tables("beds")))
    table.end()
    if faults or moisture is None or layer is None or status is None or declared is None or beds is None:
        raise ConfigurationError(faults)
    low, high, every = moisture
    return DurationRule(
        id=rule_id, status=status, low_milli_pct=low, high_milli_pct=high, moisture_every_ms=every, layer_mm=layer,
        declared=declared, beds=beds, **{key: str(value) for key, value in said.items()},
    )  # fmt: skip


def _moisture(table: Table) -> tuple[int, int, int]:
    low, high, every = table.number("low_percent", 99), table.number("high_percent", 100), table.duration("every")
    table.end()
    if high <= low:
        raise table.fault("high_percent", "it is not more than `low_percent`", "write a greater one")
    return low * 1000, high * 1000, every


def _layer(table: Table) -> int:
    size = table.size("at_most")
    table.end()
    if size is None:
        raise table.fault("at_most", "it is missing", 'write a length, such as "1 in"')
    return size


def _bed(table: Table) -> BedDuration:
    right = "write a list of " + one_of([word.value for word in BinKind])
    value = table.take("kinds", right)
    try:
        kinds = tuple(BinKind(one) for one in value)
    except (TypeError, ValueError):
        kinds = ()
    if not kinds or not isinstance(value, list):
        raise table.fault("kinds", f"{value!r} names no kind of bed or one that is not known", right)
    if table.has("months") == table.has("days"):
        raise table.fault("days", "a least time is in months or in days", "write one of `months` and `days`")
    months = table.number("months", 120) if table.has("months") else 0
    days = table.number("days", 3660) if table.has("days") else 0
    indoors = table.flag("indoors") if table.has("indoors") else None
    for key in ("months", "days", "indoors"):
        table.take(key, "", default="")
    table.end()
    return BedDuration(kinds, months, days, indoors)
