"""The case of a certificate: everything that is known of one batch, gathered beforehand by the caller.

A case holds plain values and numpy arrays, no connection to where they came from: the same case may come from the
journal, from the demo or from a spreadsheet. All instants are UTC ms.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from monitor.model.settings import Calibration
from monitor.model.times import HOUR_MS
from monitor.model.words import Method
from monitor.model.work import Work
from monitor.proof.holdset import HoldBasis
from monitor.proof.intervals import Intervals
from monitor.proof.rules import Rule


@dataclass(frozen=True, slots=True, kw_only=True)
class ServiceEntry:
    """One change of a probe's service: it went in or out.

    Attributes:
        time: When.
        into: True for in, False for out.
        how: How that is known: `built`, `moved`, `probe in`, `probe out`, `turning`, `back by itself`.
        by: Who logged it, or "".
        entered: When it was entered, or None where nobody entered it.
    """

    time: int
    into: bool
    how: str
    by: str = ""
    entered: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class CaseProbe:
    """One core probe of the batch, with every reading that was stored of it between the record's ends.

    Attributes:
        probe, name: Its id, and what people call it.
        depth_milli_m: Depth below the surface, millimetres, or None if not stated.
        by_hand: Whether a person read a thermometer.
        times: When each reading was taken, UTC ms, strictly rising.
        micro: Raw values as sent, millionths of the unit `unit` (one unit a probe; a second unit is a second entry of
            `units`, parallel to the readings).
        units: Unit of each reading, as a place in `unit_names`.
        unit_names: Units as sent (UCUM), such as `Cel`, `[degF]`.
        quality: QARTOD flag of each reading (1, 2, 3, 4); 1 and 2 are accepted.
        calibrations: Those that apply, in order; what `conditioning.calibrate` takes.
        uncertainty_milli_k: Stated uncertainty of the probe, thousandths of a kelvin, or None.
        service: When it was in, from each `probe in` to its `probe out`, which is not included: what was read at the very
            instant of a turning is no reading of the heap. `entries` says the same in words.
        unread: When it was read, too, by rows that nobody can read, UTC ms, in order.
        entries: Each change of service, in order.
        retired_by: Who took it out of the reckoning for good before the end, or "".
    """

    probe: str
    name: str = ""
    depth_milli_m: int | None = None
    by_hand: bool = False
    times: NDArray[np.int64]
    micro: NDArray[np.int64]
    units: NDArray[np.int8]
    unit_names: tuple[str, ...]
    quality: NDArray[np.int8]
    calibrations: tuple[Calibration, ...] = ()
    uncertainty_milli_k: int | None = None
    service: Intervals
    unread: tuple[int, ...] = ()
    entries: tuple[ServiceEntry, ...] = ()
    retired_by: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Attested:
    """A statement by a named person; it never changes the verdict on time and temperature.

    Attributes:
        by: Who.
        at: When, UTC ms.
        words: What they add, or "".
    """

    by: str
    at: int
    words: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class CaseWork:
    """One entry of the work log about this batch, as it stands after corrections.

    Attributes:
        work: The entry.
        entered: When it was entered.
        imported: Whether it came with a file.
        corrected: When it was last corrected, or None.
    """

    work: Work
    entered: int
    imported: bool = False
    corrected: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class CameFrom:
    """Material of another batch that came into this one.

    Attributes:
        time: When.
        batch: The other batch.
        met: Whether that one had met the rule by then, by its own record.
    """

    time: int
    batch: str
    met: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class CaseInput:
    """Something that went into a batch, or may have, by the log as it stood when the certificate was written.

    Attributes:
        kind: `delivery`, `batch`, `bed`, `harvest`, `fraction`, `lot`, `unrecorded` (a material without a delivery), `earlier`
            (what lay in a bin before the record).
        id: Its id; of `unrecorded` the material, of `earlier` the bin.
        what, supplier: The material of a delivery and who brought it, as logged; else "".
        came: When a delivery came into the yard, UTC ms; None for anything else.
        until: Up to when it counts, UTC ms: what came into it later is not in.
        certain: Whether it surely is in the batch.
        heat_status: The heat status of another batch by then, under its own rule; None for anything else.
        risks: The risks that were named with a delivery.
        looked_for: Of a delivery without one, whether anybody was asked about risks, in words; "" where nobody noted that.
    """

    kind: str
    id: str
    what: str = ""
    supplier: str = ""
    came: int | None = None
    until: int
    certain: bool
    heat_status: str | None = None
    risks: tuple[str, ...] = ()
    looked_for: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """One batch, one rule, one period, and how it is to be judged.

    Attributes:
        site, time_zone, temperature_unit: The yard, its time zone (IANA), and the unit its people use (`degF`, `degC`).
        batch: The batch's id, or "" where there is none (CSV files).
        pile, pile_name: Where it lies, or lay last.
        lay_on: (pile's name, from, to or None) for each spot it lay on.
        method: How it was composted, or None where it is not stated.
        built: When it was built, or None.
        feedstocks, quantity, size: As logged, in people's words; "" where nobody said.
        rule, rule_text: The rule, and the TOML text it was read from.
        confirmed: Who confirmed the figures of an unchecked rule against the current text, or None.
        declared: What was declared of the rule's conditions, by the condition's key.
        measures: Length (m) or volume (m³) of the pile for the monitoring duties, thousandths, by `length`, `volume`.
        basis, max_gap_ms, guard_milli_k, smoothing_ms: How it is judged.
        hand_gap_ms: Longest time between two rounds by hand across which a line is assumed.
        start, end: Ends of the record, or None: from the earliest first to the latest last accepted reading.
        as_of: The instant that the verdict is of: the batch's end, or the one asked for; None: the record's end. Material
            that came in after the last reading counts up to it.
        came_after: What came after that instant, as far as the record knows, in sentences.
        turnings: Those that were logged or confirmed, in order.
        restarts: When it was built and when material came in, after which all begins anew.
        came_in: Material of other batches that came in, in order.
        inputs: Everything that went into it, or may have, nearest first; empty where nothing is recorded of that.
        work: The work log of the batch, in order of its time.
        probes: Its core probes.
        left_out: What is to be said first, on page 1: of lines, probes and values that were left out, of a method
            that was stated against the record, of own material put back; "" without any.
        remarks: Sentences about what the record does not support, or supports only in part (moved, split, merged, …).
        chain_head: Head of the journal's hash chain, hexadecimal, or "".
        origin: Where the record came from, in words: `the yard's journal`, `files: a.csv, b.csv`.
        software: Name and version of the program.
    """

    site: str
    time_zone: str
    temperature_unit: str
    batch: str = ""
    pile: str
    pile_name: str
    lay_on: tuple[tuple[str, int, int | None], ...] = ()
    method: Method | None = None
    built: int | None = None
    feedstocks: str = ""
    quantity: str = ""
    size: str = ""
    rule: Rule
    rule_text: str
    confirmed: Attested | None = None
    declared: Mapping[str, Attested] = field(default_factory=dict)
    measures: Mapping[str, int] = field(default_factory=dict)
    basis: HoldBasis = HoldBasis.COLDEST
    max_gap_ms: int
    hand_gap_ms: int = 26 * HOUR_MS
    guard_milli_k: int = 0
    smoothing_ms: int = 0
    start: int | None = None
    end: int | None = None
    as_of: int | None = None
    came_after: tuple[str, ...] = ()
    turnings: tuple[int, ...] = ()
    restarts: tuple[int, ...] = ()
    came_in: tuple[CameFrom, ...] = ()
    inputs: tuple[CaseInput, ...] = ()
    work: tuple[CaseWork, ...] = ()
    probes: tuple[CaseProbe, ...]
    left_out: str = ""
    remarks: tuple[str, ...] = ()
    chain_head: str = ""
    origin: str
    software: str
