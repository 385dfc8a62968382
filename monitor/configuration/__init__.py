"""Configuration: turns TOML, environment and secret files into frozen values, and reports every fault in one sentence."""

from monitor.configuration.config_problems import KeyPath, UnfitError
from monitor.configuration.configured import PAGE_CHANNEL, Backup, Configuration, Page
from monitor.configuration.editing import difference, edited
from monitor.configuration.loading import load, load_text
from monitor.configuration.overrides import set_key
from monitor.configuration.quantities import length_milli_m
from monitor.configuration.ranges import Range, fits, misfit, place_named, read_range
from monitor.configuration.settings_json import canonical_settings, settings_of
from monitor.configuration.thresholds import Kind, keys_of, show_both, show_value
