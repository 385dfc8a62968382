"""The evening before, gathered from the record: forecasts that were given, the days behind, and what both let expect."""

from monitor.app.evening.forecast_file import read_forecast_file
from monitor.app.evening.forecasts_given import air_ahead_words, forecasts_given, whence_words
from monitor.app.evening.looking_ahead import PlaceAhead, TomorrowAhead, look_ahead
