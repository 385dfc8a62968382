"""Certificates of batches that have met their rule and lie there still, while none was made on the page."""

from collections.abc import Iterator

from monitor.app.diary.sources import Asked
from monitor.app.yard.certificate_files import certified
from monitor.diary import Due, certify_due
from monitor.model.words import RuleState
from monitor.notices import say_date_time


def certificates(asked: Asked) -> Iterator[Due]:
    """Yield the certificates that can be made."""
    state = asked.engine.state
    for place, batch in state.batches.lying.items():
        run = state.runs.get(batch)
        progress = None if run is None else run.walk.progress
        if run is None or progress is None or progress.since is None or place not in asked.settings.piles:
            continue
        if run.rule is RuleState.MET and not certified(asked.configuration.data, batch):
            said = say_date_time(progress.since, asked.now, asked.zone)
            yield certify_due(place, batch, progress.since, said)
