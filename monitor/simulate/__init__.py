"""A made-up yard of real physics: for the demo and for tests. Equations: `docs/simulator.md`.

No I/O and no clock here; callers hand in seeds and instants, and write the results.
"""

from monitor.simulate.autumn_heap import rounds_by_hand
from monitor.simulate.living_yard import Yard
from monitor.simulate.node_lines import wire_line
from monitor.simulate.probe_errors import Fault, FaultKind, Probe, Sample
from monitor.simulate.script import ANSWERS, HISTORY_START, WEEKEND_END, WEEKEND_START
from monitor.simulate.season import KEEPER, whole_log
from monitor.simulate.weather import Climate, Spell, Weather
from monitor.simulate.worm_bin import Bed, Bedding, Box
