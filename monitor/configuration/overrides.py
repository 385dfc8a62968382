"""Sets one key of a configuration, or of the settings of a running engine, from a text `KEY=VALUE`.

Key forms: any key path of the file (`site.temperature_unit`, `bins.b1.thresholds.overheating`); short, without
`thresholds`: `bins.b1.overheating`, `piles.p1.hot`; for the whole yard: `thresholds.bin.overheating`. On settings that
came from a recording only thresholds can be set, and a yard-wide threshold is set at every place.
"""

from dataclasses import replace
from typing import TypeVar

from monitor.configuration.config_problems import KeyPath, Problems, UnfitError, suggestion
from monitor.configuration.configured import Configuration
from monitor.configuration.layers import assignment
from monitor.configuration.loading import rebuilt
from monitor.configuration.thresholds import check_order, read_thresholds
from monitor.model.errors import ConfigurationError
from monitor.model.settings import Settings

C = TypeVar("C", Configuration, Settings)


def set_key(target: C, text: str) -> C:
    """Return a copy of a configuration, or of settings, with `KEY=VALUE` set.

    Raises:
        ConfigurationError: The text has no `=`, the key is unknown, or the value is wrong.
    """
    try:
        path, value = assignment(text)
    except UnfitError as fault:
        raise ConfigurationError([f"--set: {fault}."]) from fault
    if isinstance(target, Configuration):
        return rebuilt(target, path, value, text)
    return _set_threshold(target, path, value, text)


def _set_threshold(settings: Settings, path: KeyPath, value: object, text: str) -> Settings:
    problems = Problems("", variables={path: f"--set {text}"})
    head, key, unit = path[:-1], str(path[-1]), settings.site.temperature_unit
    if head == ("thresholds", "probe"):
        probe = read_thresholds(settings.probe_thresholds, {key: value}, head, problems)
        check_order(probe, {key: path}, head, problems, unit)
        settings = replace(settings, probe_thresholds=probe)
    elif head in {("thresholds", "pile"), ("thresholds", "bin")}:
        for name in settings.piles if head[1] == "pile" else settings.bins:
            settings = _at_place(settings, f"{head[1]}s", name, path, value, problems)
    elif len(path) == 4 and path[0] in {"piles", "bins"} and path[2] == "thresholds":
        known = settings.piles if path[0] == "piles" else settings.bins
        if path[1] in known:
            settings = _at_place(settings, str(path[0]), str(path[1]), path, value, problems)
        else:
            right = suggestion(str(path[1]), known, noun=str(path[0])[:-1])
            problems.add(path, f'there is no {str(path[0])[:-1]} "{path[1]}" in the recording', right)
    else:
        problems.add(path, "only thresholds can be set on a recording", 'write "bins.b1.overheating=82 degF"')
    if problems.found:
        raise ConfigurationError(problems.sentences())
    return settings


def _at_place(
    settings: Settings, section: str, name: str, path: KeyPath, value: object, problems: Problems
) -> Settings:
    head, key, unit = path[:-1], str(path[-1]), settings.site.temperature_unit
    if section == "piles":
        pile = settings.piles[name]
        heap = read_thresholds(pile.thresholds, {key: value}, head, problems)
        check_order(heap, {key: path}, head, problems, unit)
        return replace(settings, piles={**settings.piles, name: replace(pile, thresholds=heap)})
    bed = settings.bins[name]
    limits = read_thresholds(bed.thresholds, {key: value}, head, problems)
    check_order(limits, {key: path}, head, problems, unit)
    return replace(settings, bins={**settings.bins, name: replace(bed, thresholds=limits)})
