"""Bins: conditions of a worm bed and the excursions behind its alarms."""

from monitor.bins.axis import Axis
from monitor.bins.bed import Bed
from monitor.bins.mutes import mute_until
from monitor.bins.state import BinChange, BinState, ConditionChange, Newest
