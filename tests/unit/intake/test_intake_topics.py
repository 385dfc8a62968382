"""Settings of connections, and which subscription reads a topic."""

import dataclasses
import subprocess
import sys

import pytest

from monitor.intake import MqttConnection, SerialPort, Subscription
from monitor.intake.topics import TopicTable
from monitor.model.quarantine import SetAside

NOW = 1_795_600_000_000
SENML = b'[{"n":"p1-a","u":"Cel","v":5,"t":1795600000}]'


def read(table, topic, payload, stale=False):
    return table.decoder(topic)(payload, NOW, stale)


def test_first_matching_filter_decides():
    table = TopicTable(
        [
            Subscription(topic="nodes/+/senml"),
            Subscription(topic="nodes/{probe}/{quantity}", form="number"),
            Subscription(topic="#"),
        ]
    )
    assert table.filters == ("nodes/+/senml", "nodes/+/+", "#")
    assert read(table, "nodes/7/senml", SENML).heard[0].address == "p1-a"
    assert read(table, "nodes/7/moisture", b"60").heard[0][:3] == ("7", "moisture", 60_000_000)
    assert read(table, "elsewhere", SENML).heard[0].address == "p1-a"


def test_one_document_may_hold_several_values():
    at = {"topic": "yard/{probe}", "form": "json", "time": "/at"}
    table = TopicTable(
        [
            Subscription(value="/t", quantity="temperature", unit="Cel", **at),
            Subscription(value="/b", quantity="battery", unit="V", **at),
        ]
    )
    assert table.filters == ("yard/+",)
    decoded = read(table, "yard/p1", b'{"t":50,"b":3.3,"at":1795600000}')
    assert [heard[:4] for heard in decoded.heard] == [
        ("p1", "temperature", 50_000_000, "Cel"),
        ("p1", "battery", 3_300_000, "V"),
    ]
    assert not decoded.untimed
    assert read(table, "yard/p1", b'{"t":50,"b":3.3}').untimed
    assert len(read(table, "yard/p1", b"{").rejects) == 1


def test_topic_of_no_subscription_is_set_aside():
    table = TopicTable([Subscription(topic="nodes/+/senml")])
    decoded = read(table, "old/topic", SENML)
    assert (decoded.heard, decoded.rejects[0].reason) == ((), SetAside.UNKNOWN_PROBE)


def test_topic_that_does_not_fit_its_pattern_is_set_aside():
    table = TopicTable([Subscription(topic="nodes/#", form="number", address="nodes/{probe}/{quantity}")])
    decoded = read(table, "nodes/7/a/b", b"5")
    assert decoded.rejects[0].detail == "the topic does not fit nodes/{probe}/{quantity}"


def test_topics_remembered_are_bounded():
    table = TopicTable([Subscription(topic="{probe}", form="number")])
    for count in range(10_050):
        table.decoder(f"t{count}")
    assert len(table.known) == 50


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ({"topic": ""}, "is empty or too long"),
        ({"topic": "a/#/b"}, "has a # that is not alone on the last level"),
        ({"topic": "a+/b"}, r"has a \+ that is not alone on its level"),
        ({"topic": "a/+", "form": "number"}, "needs a pattern"),
        ({"topic": "a/{colour}", "form": "number"}, "not a topic pattern"),
        ({"topic": "a", "form": "json", "probe": "/p"}, "needs `value`"),
        ({"topic": "a", "form": "json", "value": "/v"}, "needs `probe`"),
        ({"topic": "a", "form": "json", "value": "v", "probe": "/p"}, "not a JSON pointer"),
        ({"topic": "a", "form": "xml"}, "no payload form"),
    ],
)
def test_subscription_that_cannot_be_meant(more, said):
    with pytest.raises(ValueError, match=said):
        TopicTable([Subscription(**more)])


@pytest.mark.parametrize(
    ("one", "other", "overlap"),
    [
        ("nodes/+/senml", "nodes/+/+", True),
        ("nodes/+/senml", "nodes/+/now/+", False),
        ("a/#", "a", True),
        ("#", "x/y", True),
        ("a/+", "a", False),
        ("a/b", "a/c", False),
        ("a/b", "a/b", False),
    ],
)
def test_filters_that_can_match_one_topic_are_named(one, other, overlap):
    settings = MqttConnection(subscriptions=(Subscription(topic=one), Subscription(topic=other)))
    assert settings.overlaps == (((one, other),) if overlap else ())


@pytest.mark.parametrize("more", [{"port": 0}, {"receive_maximum": 999}, {"client_id": ""}, {"backoff_max_s": 0}])
def test_connection_out_of_range(more):
    with pytest.raises(ValueError, match="mqtt mqtt"):
        MqttConnection(**more)


def test_serial_port_out_of_range():
    with pytest.raises(ValueError, match="serial shed"):
        SerialPort(name="shed", url="")


def test_secrets_are_not_shown():
    settings = MqttConnection(username="yard", password="rhubarb", key_password="parsnip")
    assert "yard" in repr(settings)
    assert "rhubarb" not in repr(settings)
    assert "parsnip" not in repr(settings)
    assert dataclasses.asdict(settings)["password"] == "rhubarb"


def test_client_libraries_are_loaded_only_when_named():
    code = "import sys, monitor.intake; print(sorted({'paho', 'serial'} & set(sys.modules)))"
    result = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert result.stdout.strip() == "[]"
