"""Finds settings that parse but cannot be right: future dates, a rule that does not fit the method, no place at all."""

from collections.abc import Iterator
from zoneinfo import ZoneInfo

from monitor.app.cases import known_rule
from monitor.app.checks.check_finding import Finding
from monitor.app.evening import read_forecast_file
from monitor.configuration import Configuration
from monitor.model.settings import Pile, Settings
from monitor.model.thresholds import RULE_GAP_MS, RULE_HAND_GAP_MS
from monitor.model.times import DAY_MS, show_duration, show_time
from monitor.notices import local
from monitor.proof.rules import NO_RULE, refuse_method


def settings_checks(configuration: Configuration, now: int) -> Iterator[Finding]:
    """Yield findings about the settings; `now` (UTC ms) tells past from future."""
    settings = configuration.settings
    if not settings.piles and not settings.bins:
        yield Finding("places", True, "there is no pile and no bin, so nothing is watched; add one", warning=True)
    elif not settings.probes:
        words = "there is no probe, so nothing is watched but what you read by hand"
        yield Finding("probes", True, words, warning=True)
    yield from _dates_to_come(settings, now)
    yield from _forecast_file(configuration, now)
    for name, bed in configuration.beds.items():
        if bed.begun is not None and bed.begun > now + DAY_MS:
            words = (
                f"`begun` lies ahead ({show_time(bed.begun)[:10]}), so nothing is fed until then; is the date right?"
            )
            yield Finding(f"bin {name}", True, words, warning=True)
    for name, pile in settings.piles.items():
        if pile.rule == NO_RULE:
            continue
        yield from _laxer(name, pile)
        refused = refuse_method(known_rule(pile.rule, configuration).rule, pile.method)
        if refused:
            words = "write the method that is used, or another rule (`heaptender rules`)"
            yield Finding(f"pile {name}", False, f"{refused.removesuffix('.')}; {words}")


def _forecast_file(configuration: Configuration, now: int) -> Iterator[Finding]:
    """Yield the faults of the file of forecasts; one that is not there yet is worth a remark."""
    path, settings = configuration.forecast_file, configuration.settings
    if path is None:
        return
    if not path.exists():
        yield Finding(
            "forecast", True, f"{path} is not there yet; whatever fetches the forecast has to write it", warning=True
        )
        return
    found = read_forecast_file(path, settings, local(now, ZoneInfo(settings.site.time_zone)).date(), now)
    for fault in found.faults:
        yield Finding("forecast", False, fault)
    if not found.faults:
        count = len(found.entries)
        yield Finding(
            "forecast", True, f"{count} {'day' if count == 1 else 'days'} to come in {path.name}", warning=not count
        )


def _laxer(name: str, pile: Pile) -> Iterator[Finding]:
    """Yield gaps that exceed those used for a rule: they apply to phases and alarms, never to the rule."""
    own = pile.thresholds
    for key, gap, usual in (
        ("max_gap", own.max_gap_ms, RULE_GAP_MS),
        ("hand_gap", own.hand_gap_ms, RULE_HAND_GAP_MS),
    ):
        if gap > usual:
            words = (
                f"`{key}` is {show_duration(gap)}: that serves phases and alarms; for its rule nothing is proven across more "
                f"than {show_duration(usual)} (`certify --{key.replace('_', '-')}` shows what it would be, *met only as asked*)"
            )
            yield Finding(f"pile {name}", True, words, warning=True)


def _dates_to_come(settings: Settings, now: int) -> Iterator[Finding]:
    ahead = now + settings.probe_thresholds.ahead_ms
    for name, pile in settings.piles.items():
        if pile.built is not None and pile.built > ahead:
            words = f"`built` lies ahead ({show_time(pile.built)[:10]}); write when it was built, or leave it out"
            yield Finding(f"pile {name}", False, words)
    for name, probe in settings.probes.items():
        for one in probe.calibrations:
            if one.start is not None and one.start > ahead:
                words = f"a calibration begins only on {show_time(one.start)[:10]}; is the date right?"
                yield Finding(f"probe {name}", True, words, warning=True)
