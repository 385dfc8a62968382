"""Batches at speed: how far many readings at once bring a walk, so that only those that may decide something are stepped."""

from monitor.piles.ahead.hours_ahead import HoursAhead
from monitor.piles.ahead.line_ahead import LineAhead
from monitor.piles.ahead.together import all_known, find_telling, sides_stay
