"""Configuration: TOML, environment and secret files to frozen values, with every fault said in one sentence."""

from monitor.configuration.canonical import canonical_settings, settings_of
from monitor.configuration.loading import defaults, load, load_text
from monitor.configuration.overrides import set_key
from monitor.configuration.parts import (
    PAGE_CHANNEL,
    Backup,
    Channel,
    Configuration,
    Heartbeat,
    Mirror,
    Mqtt,
    Page,
    Poll,
    SerialPort,
    Subscription,
)
from monitor.configuration.thresholds import keys_of, reference_table, show_value

__all__ = [
    "PAGE_CHANNEL",
    "Backup",
    "Channel",
    "Configuration",
    "Heartbeat",
    "Mirror",
    "Mqtt",
    "Page",
    "Poll",
    "SerialPort",
    "Subscription",
    "canonical_settings",
    "defaults",
    "keys_of",
    "load",
    "load_text",
    "reference_table",
    "set_key",
    "settings_of",
    "show_value",
]
