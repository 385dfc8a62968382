"""Holds the copies of the record against their manifests."""

from collections.abc import Iterator
from pathlib import Path

from monitor.app.checks.check_finding import Finding
from monitor.app.console.progress_bar import progress_bar
from monitor.app.upkeep.backups import copies_in, damaged_in
from monitor.app.upkeep.copy_manifest import damage_named, held_against_manifest
from monitor.configuration import Configuration

_WHAT = "copies"


def copy_checks(configuration: Configuration, *, quick: bool = False) -> Iterator[Finding]:
    """Yield findings about the copies; `quick` compares sizes, and does not read them."""
    plan = configuration.backup
    if plan is None or not plan.folder.is_dir():
        return
    copies, unnamed, wrong = [*copies_in(plan.folder), *damaged_in(plan.folder)], 0, 0
    with progress_bar("Checking the copies") as show:
        for number, copy in enumerate(copies):
            show(number, len(copies))
            try:
                differing = held_against_manifest(copy, quick=quick)
            except FileNotFoundError:
                unnamed += 1
                continue
            wrong += bool(differing)
            for said in differing:
                yield Finding(_WHAT, False, f"{copy.name}: {said}; remove it, the next copy takes its place")
    yield from _damaged(damaged_in(plan.folder))
    if len(copies) > unnamed and not wrong:
        held = "of the size that its manifest says (--quick)" if quick else "what its manifest says"
        yield Finding(_WHAT, True, f"each of {len(copies) - unnamed} is {held}", warning=quick)
    if unnamed:
        words = (
            f"{unnamed} without a manifest, as an older version made them; `heaptender restore` looks through them too"
        )
        yield Finding(_WHAT, True, words, warning=True)


def _damaged(copies: list[Path]) -> Iterator[Finding]:
    for copy in copies:
        named = "; ".join(damage_named(copy)) or "its manifest does not say where"
        yield Finding(
            _WHAT,
            True,
            f"{copy.name} was made of a damaged record ({named}); no good one was removed for it",
            warning=True,
        )
