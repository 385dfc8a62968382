"""The data that cases of the same files share: what was read, for which heap, and what is known of its probes."""

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from monitor.app.cases.files_settings import is_by_hand
from monitor.app.cases.lineage import Telling
from monitor.app.cases.read_files import Files, Read
from monitor.app.cases.which_rule import KnownRule
from monitor.configuration import canonical_settings
from monitor.model.settings import Pile, Probe, Settings
from monitor.model.words import Role


@dataclass(frozen=True, slots=True)
class Gathered:
    """The data that cases of the same files share.

    `first` is the time of the first accepted reading of the `chosen` probes, UTC ms. `homes` are the probes of other piles;
    `no_core` are those that the configuration puts outside the core. `unnamed` are incoming batches of unknown probes, filled
    as they are asked about.
    """

    files: Files
    read: Read
    known: KnownRule
    settings: Settings
    telling: Telling
    chosen: tuple[str, ...]
    first: int
    known_piles: Mapping[str, Pile]
    homes: Mapping[str, tuple[str, ...]]
    no_core: frozenset[str] = frozenset()
    unnamed: set[str] = field(default_factory=set)

    def plain(self, probes: Sequence[str]) -> dict[str, Any]:
        """Return settings as JSON values, with the probes of one batch."""
        every = {
            name: Probe(place="", role=Role.CORE, address=name) for name in probes if not is_by_hand(name, self.files)
        }
        found: dict[str, Any] = json.loads(canonical_settings(replace(self.settings, probes=every)))
        return found

    def unread(self, name: str) -> tuple[int, ...]:
        """Return the times (UTC ms) of a probe's rows that nobody can read, and of its disowned readings."""
        disowned = self.read.columns[name].disowned_outside(self.known.rule.all_limits())
        return tuple(sorted({*self.read.unread(name), *disowned, *self.read.columns[name].mixed}))

    def disowned(self) -> str:
        """Return page 1's sentence about readings that the files' own column calls bad; "" if none matters."""
        limits = self.known.rule.all_limits()
        count = sum(len(self.read.columns[name].disowned_outside(limits)) for name in self.chosen)
        if not count:
            return ""
        many = "1 reading" if count == 1 else f"{count:,} readings"
        return (
            f"{many} outside the rule's limits would count but for the files' own column `quality`, which calls it bad: from "
            "the reading before each to the one after it nothing is proven."
        )

    def firsts(self) -> dict[str, int]:
        """Return the time of the first accepted reading of each other pile, UTC ms."""
        return {pile: min(self.read.columns[name].first() for name in names) for pile, names in self.homes.items()}

    def placed(self) -> set[str]:
        """Return the series known to lie, or not to lie, in the core of this heap."""
        elsewhere = {name for names in self.homes.values() for name in names} | self.no_core
        by_hand = {name for name in self.read.columns if is_by_hand(name, self.files)}
        return {*self.chosen, *elsewhere, *by_hand}
