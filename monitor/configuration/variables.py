"""Reads environment variables into tables nested as in the file; imported only where there are any."""

from collections.abc import Mapping
from typing import Any

from pydantic_settings import BaseSettings, EnvSettingsSource, SettingsConfigDict

from monitor.configuration.config_document import Document


class _Variables(Document, BaseSettings):
    """The file's keys as variables."""

    model_config = SettingsConfigDict(env_prefix="HEAPTENDER_", env_nested_delimiter="__", case_sensitive=False)


def read_variables(given: Mapping[str, str]) -> dict[str, Any]:
    """Return the values of variables, named in small letters, nested as in the file.

    Raises:
        ValueError: One of them cannot be read.
    """
    source = EnvSettingsSource(_Variables)
    source.env_vars = given
    return dict(source())
