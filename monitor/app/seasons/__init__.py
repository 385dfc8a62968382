"""A season: heaps beside each other by days since they were built, and a bin's year, gathered from the record and in words."""

from monitor.app.seasons.bin_days import BinDays
from monitor.app.seasons.kept_heats import HeapHeats, HeatLook
from monitor.app.seasons.season_gathered import Gathering, heaps_of
from monitor.app.seasons.season_words import SeasonWords
