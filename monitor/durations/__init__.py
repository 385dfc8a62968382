"""Holds a lot of castings against a rule of duration: how long, how moist and in which layers it lay with worms. Pure."""

from monitor.durations.bed_facts import BedFacts, Layer, Moist
from monitor.durations.lot_duration import Answer, LotDuration, lot_duration
