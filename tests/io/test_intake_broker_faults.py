"""Why a broker cannot be had, by a real one: each fault in a sentence of its own, with what to do and no secret."""

import ipaddress
import subprocess
import time
from datetime import UTC, datetime, timedelta

import pytest
from arrivals import Collector, PushedClock
from brokers import program, wait_until
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec

from monitor.intake import MqttConnection, MqttSource, Subscription

pytestmark = [pytest.mark.io, pytest.mark.timeout(60)]


class Ticking(PushedClock):
    def monotonic_s(self):
        return time.monotonic()


@pytest.fixture
def ask():
    """A function that connects and returns why the link is down once a reason with these words was told."""
    sources = []

    def connect(words, **settings):
        sink = Collector()
        settings = {
            "subscriptions": (Subscription(topic="a"),),
            "password": "hunter2pass",
            "username": "yard",
        } | settings
        connection = MqttConnection(backoff_max_s=1, **settings)
        sources.append(MqttSource(connection, sink, Ticking()))
        sources[-1].start()
        found = wait_until(lambda: [link.why for link in sink.links if not link.up and words in link.why], words, 20)
        assert "hunter2" not in " ".join(link.why for link in sink.links)
        return found[0]

    yield connect
    for source in sources:
        source.stop()


def certificate(folder, name, *names, days=2):
    """Write a certificate signed by itself, NAME.pem and NAME.key."""
    key = ec.generate_private_key(ec.SECP256R1())
    subject = x509.Name([x509.NameAttribute(x509.NameOID.COMMON_NAME, name)])
    now = datetime.now(UTC)
    made = (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(subject)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - timedelta(days=5))
        .not_valid_after(now + timedelta(days=days))
        .add_extension(x509.SubjectAlternativeName(list(names)), critical=False)
        .add_extension(x509.BasicConstraints(ca=True, path_length=None), critical=True)
        .sign(key, hashes.SHA256())
    )
    (folder / f"{name}.pem").write_bytes(made.public_bytes(serialization.Encoding.PEM))
    (folder / f"{name}.key").write_bytes(
        key.private_bytes(serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption())
    )
    (folder / f"{name}.key").chmod(0o644)
    return [f"certfile {folder}/{name}.pem", f"keyfile {folder}/{name}.key"]


LOOPBACK = x509.IPAddress(ipaddress.ip_address("127.0.0.1"))


@pytest.mark.parametrize("version", ["3.1.1", "5"])
def test_a_wrong_password(mosquitto, tmp_path, ask, version):
    accounts = tmp_path / "accounts"
    subprocess.run([program("mosquitto_passwd"), "-b", "-c", str(accounts), "yard", "rhubarb"], check=True)
    accounts.chmod(0o644)
    broker = mosquitto(anonymous=False, lines=[f"password_file {accounts}"])
    assert "mend `mqtt.username` and `mqtt.password`" in ask("refuses the login", port=broker.port, version=version)


def test_certificates_and_tls(mosquitto, tmp_path, ask):
    right, other = (
        certificate(tmp_path, "right", LOOPBACK),
        certificate(tmp_path, "other", x509.DNSName("shed.example")),
    )
    old = certificate(tmp_path, "old", LOOPBACK, days=-1)
    broker = mosquitto(lines=right)
    assert "`mqtt.ca_file`" in ask("signed by no authority known here", port=broker.port, tls=True)
    assert "`mqtt.tls = true`" in ask("closes without a word", port=broker.port)
    strange = mosquitto(lines=other)
    ca = f"{tmp_path}/other.pem"
    assert "name that stands in it" in ask("for another name", port=strange.port, tls=True, ca_file=ca)
    over = mosquitto(lines=old)
    assert "clock" in ask("not valid today", port=over.port, tls=True, ca_file=f"{tmp_path}/old.pem")
    plain = mosquitto()
    assert "`mqtt.tls = false`" in ask("does not speak TLS there", port=plain.port, tls=True)


def test_addresses(free_port, ask):
    assert "start it" in ask("nobody listens", port=free_port())
    assert "spelling" in ask("is not known", host="broker.invalid")


@pytest.mark.parametrize("version", ["3.1.1", "5"])
def test_two_programs_with_one_client_id(mosquitto, ask, version):
    broker = mosquitto()
    sink = Collector()
    settings = MqttConnection(
        port=broker.port, version=version, client_id="yard-1", backoff_max_s=1, subscriptions=(Subscription(topic="a"),)
    )
    first = MqttSource(settings, sink, Ticking())
    first.start()
    try:
        sink.wait_for_links(True)
        why = ask('the client_id "yard-1"', port=broker.port, version=version, client_id="yard-1")
        assert "give each its own `mqtt.client_id`" in why
    finally:
        first.stop()


def test_another_reason_is_told_though_the_link_is_down_already(mosquitto, tmp_path, free_port, ask):
    port = free_port()
    accounts = tmp_path / "accounts"
    subprocess.run([program("mosquitto_passwd"), "-b", "-c", str(accounts), "yard", "rhubarb"], check=True)
    accounts.chmod(0o644)
    sink = Collector()
    settings = MqttConnection(
        port=port, username="yard", password="hunter2", backoff_max_s=1, subscriptions=(Subscription(topic="a"),)
    )
    source = MqttSource(settings, sink, Ticking())
    source.start()
    try:
        sink.wait_for_links(False)
        mosquitto(port, anonymous=False, lines=[f"password_file {accounts}"])
        wait_until(lambda: len(sink.links) == 2, "the second reason")
        assert ["nobody listens" in sink.links[0].why, "refuses the login" in sink.links[1].why] == [True, True]
    finally:
        source.stop()
