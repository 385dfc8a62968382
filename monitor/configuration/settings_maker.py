"""Makes the engine's settings out of a checked document and fills in defaults.

Rules: a site-wide threshold is the default of every place, a place's own wins; a probe without a role gets the first role
of its place; calibrations are in order of their beginning.
"""

from collections.abc import Callable, Mapping
from dataclasses import fields
from functools import partial
from typing import Any

from monitor.configuration import configured, quantities
from monitor.configuration.config_document import CalibrationPart, Document, ProbePart
from monitor.configuration.config_problems import KeyPath, Problems, UnfitError
from monitor.configuration.cross_checks import Names, default_role
from monitor.configuration.thresholds import T, check_order, read_thresholds
from monitor.model.settings import Bin, Calibration, Contact, NoticePolicy, Pile, Probe, Settings, Site
from monitor.model.thresholds import BinThresholds, PileThresholds, ProbeThresholds
from monitor.model.units import MICRO, UNITS_OF, Quantity, divide_half_even, to_micro, unit_code
from monitor.model.words import Basis

_CALIBRATED_EXAMPLE = {
    Quantity.TEMPERATURE: "0.4 degC",
    Quantity.MOISTURE: "60 %",
    Quantity.OXYGEN: "20.9 %",
    Quantity.BATTERY: "3.3 V",
    Quantity.SIGNAL: "-70 dBm",
}


class SettingsBuilder:
    """Builds the settings of one document; reports faults to `problems` and puts a default in their place."""

    def __init__(self, document: Document, names: Names, problems: Problems) -> None:
        """Take a document of the right shape."""
        self._document = document
        self._names = names
        self._problems = problems

    def _thresholds(self, base: T, section: str, name: str, own: Mapping[str, Any]) -> T:
        path: KeyPath = (section, name, "thresholds")
        wide = {"piles": "pile", "bins": "bin"}[section]
        result = read_thresholds(base, own, path, self._problems)
        written: dict[str, KeyPath] = {
            key: ("thresholds", wide, key) for key in getattr(self._document.thresholds, wide)
        }
        written.update({key: (*path, key) for key in own})
        if own:
            check_order(result, written, path, self._problems, self._document.site.temperature_unit)
        return result

    def _wide(self, base: T, kind: str) -> T:
        table: dict[str, Any] = getattr(self._document.thresholds, kind)
        path: KeyPath = ("thresholds", kind)
        result = read_thresholds(base, table, path, self._problems)
        written = {key: (*path, key) for key in table}
        check_order(result, written, path, self._problems, self._document.site.temperature_unit)
        return result

    def settings(self) -> Settings:
        """Return everything the engine uses."""
        document = self._document
        pile_base, bin_base = self._wide(PileThresholds(), "pile"), self._wide(BinThresholds(), "bin")
        return Settings(
            site=Site(
                name=document.site.name,
                time_zone=document.site.time_zone,
                temperature_unit=document.site.temperature_unit,
                summer=tuple(document.site.summer),
            ),
            piles={
                name: Pile(
                    name=pile.name or name,
                    rule=pile.rule,
                    method=pile.method,
                    built=pile.built,
                    thresholds=self._thresholds(pile_base, "piles", name, pile.thresholds),
                    spots=tuple(pile.spots),
                )
                for name, pile in document.piles.items()
            },
            bins={
                name: Bin(
                    name=bed.name or name,
                    thresholds=self._thresholds(bin_base, "bins", name, bed.thresholds),
                    spots=tuple(bed.spots),
                )
                for name, bed in document.bins.items()
            },
            probes={name: self._probe(name, probe) for name, probe in document.probes.items()},
            probe_thresholds=self._wide(ProbeThresholds(), "probe"),
            contacts={
                name: Contact(
                    name=contact.name or name,
                    # The page is the channel of a contact without one, so that the notices stand somewhere.
                    channels=tuple(contact.channels) or (configured.PAGE_CHANNEL,),
                    places=tuple(contact.places),
                    order=contact.order,
                    duty=tuple(contact.duty),
                    quiet_start_minute=contact.quiet[0],
                    quiet_end_minute=contact.quiet[1],
                    digest=contact.digest,
                )
                for name, contact in document.contacts.items()
            },
            notices=self._policy(),
        )

    def _policy(self) -> NoticePolicy:
        part = self._document.notices
        keys = {one.name: one.name.removesuffix("_ms").removesuffix("_minute") for one in fields(NoticePolicy)}
        return NoticePolicy(**{name: getattr(part, key) for name, key in keys.items()})

    def _probe(self, name: str, part: ProbePart) -> Probe:
        path: KeyPath = ("probes", name)
        unit = unit_code(part.unit) if part.unit is not None else None
        resolution = None
        if part.resolution is not None:
            own = unit or UNITS_OF[part.quantity][0]
            step = read_amount(
                self._problems,
                (*path, "resolution"),
                partial(quantities.amount_micro, part.resolution, own, f"0.1 {own}"),
            )
            if step is not None and step <= 0:
                self._problems.add(
                    (*path, "resolution"), f"{quantities.show(part.resolution)} is not above zero", "leave it out"
                )
            resolution = step if step is not None and step > 0 else None
        calibrations = [
            self._calibration((*path, "calibration", index), part, item) for index, item in enumerate(part.calibration)
        ]
        starts = [calibration.start for calibration in calibrations if calibration is not None]
        for index, start in enumerate(starts):
            if start in starts[:index]:
                self._problems.add(
                    (*path, "calibration", index), "it begins at the same time as another", "give it a later `from`"
                )
        return Probe(
            place=part.place,
            role=part.role if part.role is not None else default_role(self._names.kind(part.place) or "pile"),
            address=part.address or name,
            quantity=part.quantity,
            name=part.name,
            unit=unit,
            depth_milli_m=part.depth,
            uncertainty_milli_k=part.uncertainty,
            source=part.source,
            resolution_micro=resolution,
            basis=part.basis,
            bulk_density_kg_m3=part.bulk_density,
            calibrations=tuple(
                sorted(
                    (calibration for calibration in calibrations if calibration is not None),
                    key=lambda calibration: calibration.start if calibration.start is not None else -(1 << 62),
                )
            ),
        )

    def _calibration(self, path: KeyPath, probe: ProbePart, part: CalibrationPart) -> Calibration | None:
        points: list[tuple[int, int]] = []
        for index, (shown, right) in enumerate(part.points):
            place: KeyPath = (*path, "points", index)
            left = read_amount(self._problems, place, partial(_shown, shown, probe))
            true = read_amount(self._problems, place, partial(_canonical, right, probe.quantity))
            if left is not None and true is not None:
                points.append((left, true))
        if len(points) < len(part.points):
            return None
        if len(points) == 2 and points[0][0] == points[1][0]:
            self._problems.add((*path, "points"), "both points show the same value", "take two that lie apart")
            return None
        if len(points) == 1 and probe.basis is Basis.RAW:
            self._problems.add((*path, "points"), "a raw probe needs two points", "add a second one")
            return None
        return Calibration(points=tuple(points), start=part.start, by=part.by, note=part.note)


def read_amount(problems: Problems, path: KeyPath, read: Callable[[], int]) -> int | None:
    """Run a reader and note its objection.

    Args:
        problems: Receives the fault.
        path: Key of the value, for the fault.
        read: Returns the value, or raises `UnfitError`.

    Returns:
        The value, or None after a fault.
    """
    try:
        return read()
    except UnfitError as fault:
        problems.fault(path, fault)
        return None


def _raw(value: object) -> int:
    """Return the raw number of an uncalibrated probe in thousandths."""
    try:
        return divide_half_even(to_micro(float(str(value))), MICRO // 1000)
    except ValueError as fault:
        right = "write the number that the probe sends"
        raise UnfitError(f"{quantities.show(value)} is not a raw number", right) from fault


def _shown(value: object, probe: ProbePart) -> int:
    """Return the value that the probe showed: a raw number if its basis is raw, else a value with its unit."""
    return _raw(value) if probe.basis is Basis.RAW else _canonical(value, probe.quantity)


def _canonical(value: object, quantity: Quantity) -> int:
    """Return one value of a calibration point in thousandths of the canonical unit."""
    example = _CALIBRATED_EXAMPLE[quantity]
    if quantity is Quantity.TEMPERATURE:
        return quantities.temperature_milli_c(value, example)
    if quantity in {Quantity.MOISTURE, Quantity.OXYGEN}:
        return quantities.percent_milli(value, example)
    unit = example.split()[1]
    return divide_half_even(quantities.amount_micro(value, unit, example), MICRO // 1000)
