"""A made-up yard of real physics: for the demo, for tests and for tuning. Equations: `docs/simulator.md`.

No I/O and no clock here; callers hand in seeds and instants, and write the results.
"""

from monitor.simulate import faults
from monitor.simulate.hot_pile import Heap
from monitor.simulate.living_yard import Yard
from monitor.simulate.material import Mix, Nature
from monitor.simulate.probe_errors import Fault, FaultKind, Make, Probe, Sample
from monitor.simulate.recording import Label, delivery_rows, label_rows, reading_rows, wire_line, work_rows
from monitor.simulate.script import HISTORY_START, SILENT_FROM, SILENT_PROBE, WEEKEND_END, WEEKEND_START
from monitor.simulate.truth import BinYear, bin_year, own_limits
from monitor.simulate.weather import Air, Climate, Spell, Weather
from monitor.simulate.worm_bin import Bed, Bedding, Box

__all__ = [
    "HISTORY_START",
    "SILENT_FROM",
    "SILENT_PROBE",
    "WEEKEND_END",
    "WEEKEND_START",
    "Air",
    "Bed",
    "Bedding",
    "BinYear",
    "Box",
    "Climate",
    "Fault",
    "FaultKind",
    "Heap",
    "Label",
    "Make",
    "Mix",
    "Nature",
    "Probe",
    "Sample",
    "Spell",
    "Weather",
    "Yard",
    "bin_year",
    "delivery_rows",
    "faults",
    "label_rows",
    "own_limits",
    "reading_rows",
    "wire_line",
    "work_rows",
]
