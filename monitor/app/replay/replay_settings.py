"""Finds the settings of a recording, and changes them by `--set`.

Rules: an override applies to every state of the settings that has its place, so the place may have come later or be gone
by now; an override that fits no state is refused. A recording that begins with a checkpoint begins with its settings.
"""

import json
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace

from monitor.configuration import canonical_settings, place_named, set_key, settings_of
from monitor.engine import Engine
from monitor.engine.stretch import Piece
from monitor.model.errors import ConfigurationError
from monitor.model.events import Event, EventKind
from monitor.model.settings import Settings


def settings_ever(pieces: Iterable[Piece], state: bytes | None = None) -> Settings:
    """Return the settings at the end of a recording, with every place and probe that it ever had."""
    return _union(_states(pieces, state))


def with_settings(pieces: Sequence[Piece], overrides: Sequence[str], state: bytes | None = None) -> list[Piece]:
    """Return the pieces with thresholds changed in every settings event.

    Args:
        pieces: The pieces of a recording.
        overrides: `KEY=VALUE` texts.
        state: The checkpoint with which it begins, or None.

    Raises:
        ConfigurationError: An override names no threshold, a place that never existed, or a wrong value.
    """
    if not overrides:
        return list(pieces)
    _refuse_strangers(list(_states(pieces, state)), overrides)
    found: list[Piece] = []
    if state is not None:
        engine = Engine.restore(state)
        found.append(_event(engine.last + 1, engine.state.settings, overrides))
    for piece in pieces:
        if isinstance(piece, Event) and piece.kind is EventKind.SETTINGS:
            found.append(_event(piece.at, _settings(piece), overrides))
        else:
            found.append(piece)
    return found


def changed(settings: Settings, overrides: Iterable[str]) -> Settings:
    """Return settings with those overrides whose place they have; raises as `set_key`."""
    for text in overrides:
        if _fits(settings, text):
            settings = set_key(settings, text)
    return settings


def _event(at: int, settings: Settings, overrides: Iterable[str]) -> Event:
    plain = json.loads(canonical_settings(changed(settings, overrides)))
    return Event(at, EventKind.SETTINGS, {"settings": plain})


def _refuse_strangers(states: Sequence[Settings], overrides: Iterable[str]) -> None:
    faults: list[str] = []
    for text in overrides:
        if not any(_fits(settings, text) for settings in states):
            try:
                set_key(_union(states), text)  # its error lists every place that ever existed
            except ConfigurationError as fault:
                faults += fault.problems
    if faults:
        raise ConfigurationError(faults)


def _union(states: Iterable[Settings]) -> Settings:
    found = Settings()
    for one in states:
        found = replace(
            one,
            piles={**found.piles, **one.piles},
            bins={**found.bins, **one.bins},
            probes={**found.probes, **one.probes},
        )
    return found


def _fits(settings: Settings, text: str) -> bool:
    place = place_named(text)
    return place is None or place in settings.piles or place in settings.bins


def _states(pieces: Iterable[Piece], state: bytes | None) -> Iterator[Settings]:
    if state is not None:
        yield Engine.restore(state).state.settings
    for piece in pieces:
        if isinstance(piece, Event) and piece.kind is EventKind.SETTINGS:
            yield _settings(piece)


def _settings(event: Event) -> Settings:
    return settings_of(json.dumps(event.payload["settings"]))
