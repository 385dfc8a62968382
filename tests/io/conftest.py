"""Real parts for tests on loopback; each is started by the test that asks for it and stopped after it."""

import pytest
from brokers import Mosquitto, find_free_port


@pytest.fixture
def free_port():
    """A function that returns a TCP port on loopback which nobody listens on."""
    return find_free_port


@pytest.fixture
def mosquitto(tmp_path):
    """A function that starts a broker; keywords as `brokers.Mosquitto`."""
    started = []

    def start(port=None, **more):
        broker = Mosquitto(tmp_path / f"broker{len(started)}", port or find_free_port(), **more)
        started.append(broker)
        return broker.start()

    yield start
    for broker in started:
        broker.stop()
