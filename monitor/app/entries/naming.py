"""Lets names serve as ids: people may call a place or a probe by either."""

from collections.abc import Mapping

from monitor.model.errors import MisuseError
from monitor.model.settings import YARD, Settings


def place_meant(settings: Settings, text: str) -> str:
    """Return the id of the pile or bin with this id or name, or `yard`; an unknown text is returned unchanged.

    Raises:
        MisuseError: Several places have that name.
    """
    return _meant(text, {one: settings.place_name(one) for one in (*settings.piles, *settings.bins, YARD)})


def probe_meant(settings: Settings, text: str) -> str:
    """Return the id of the probe with this id or name; an unknown text is returned unchanged.

    Raises:
        MisuseError: Several probes have that name.
    """
    return _meant(text, {one: probe.name for one, probe in settings.probes.items()})


def alarm_meant(settings: Settings, text: str) -> str:
    """Return the key of an alarm (`PLACE/ALARM`); its place may be written by name.

    Raises:
        MisuseError: Several places have that name.
    """
    place, slash, rest = text.partition("/")
    return place_meant(settings, place) + slash + rest


def _meant(text: str, names: Mapping[str, str]) -> str:
    if text in names:
        return text
    plain = _plain(text)
    found = [one for one, name in names.items() if plain in (_plain(one), _plain(name))]
    joined = plain.replace(" ", "")
    found = found or [one for one, name in names.items() if joined in (_joined(one), _joined(name))]
    if len(found) > 1:
        raise MisuseError(f'"{text}" can be {" or ".join(found)}; write which.')
    return found[0] if found else text


def _joined(text: str) -> str:
    return _plain(text).replace(" ", "")


def _plain(text: str) -> str:
    return " ".join(text.casefold().split())
