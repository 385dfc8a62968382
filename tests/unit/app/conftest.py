"""Whatever a command prints as JSON in any test of these is held against its schema."""

import pytest

from monitor.app.console import options
from tests.tools.schemas.holding import hold


@pytest.fixture(autouse=True, scope="session")
def every_json_is_held_against_its_schema():
    line = options.json_line

    def held(value):
        hold(value)
        return line(value)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(options, "json_line", held)
        yield
