"""A made-up yard of real physics: for the demo and for tests. Equations: `docs/simulator.md`.

No I/O and no clock here; callers hand in seeds and instants, and write the results.
"""

from monitor.simulate.hot_pile import Heap
from monitor.simulate.living_yard import Yard
from monitor.simulate.material import Mix, Nature
from monitor.simulate.node_lines import wire_line
from monitor.simulate.probe_errors import Fault, FaultKind, Make, Probe, Sample
from monitor.simulate.script import HISTORY_START, SILENT_FROM, SILENT_PROBE, WEEKEND_END, WEEKEND_START
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
    "Box",
    "Climate",
    "Fault",
    "FaultKind",
    "Heap",
    "Make",
    "Mix",
    "Nature",
    "Probe",
    "Sample",
    "Spell",
    "Weather",
    "Yard",
    "wire_line",
]
