"""Checks the keys of connections: topics, payload forms, ports and addresses. Nothing is opened or connected."""

import ipaddress
import re
from collections.abc import Callable

from monitor.codec import TopicPattern, parse_pointer
from monitor.configuration.config_document import Document, MqttPart, SubscriptionPart
from monitor.configuration.config_problems import KeyPath, Problems, one_of
from monitor.configuration.configured import PAGE_CHANNEL
from monitor.model.connections import EXPIRY_S_MAX, KEEPALIVE_S_MAX, topic_fault
from monitor.model.payload_forms import JSON, PAYLOAD_FORMS
from monitor.model.units import UNITS_OF, Quantity, unit_code

_URL = re.compile(r"[A-Za-z][A-Za-z0-9+.-]*://\S+", re.ASCII)
_HOST_IN_MORE = re.compile(
    r"(?:[A-Za-z][A-Za-z0-9+.-]*://)?(?:[^@/\s]*@)?(\[[0-9A-Fa-f:.]+\]|[^:/@\s]+)(?::(\d{1,5}))?(?:/\S*)?", re.ASCII
)


def check_channels(document: Document, problems: Problems) -> None:
    """Check that every channel has its address or topic."""
    for name, channel in document.channels.items():
        path: KeyPath = ("channels", name)
        if name == PAGE_CHANNEL:
            problems.add(path, f'the channel "{PAGE_CHANNEL}" is always there', "give this one another id")
        if channel.kind == "mqtt":
            _check_mqtt_channel(document, path, channel.topic, problems)
        elif channel.topic is not None:
            problems.add((*path, "topic"), "a channel with a url has no topic", 'add kind = "mqtt", or leave it out')


def _check_mqtt_channel(document: Document, path: KeyPath, topic: str | None, problems: Problems) -> None:
    if topic is None:
        problems.add((*path, "topic"), "it is missing", 'every channel of kind "mqtt" has one')
    elif not topic or set(topic) & set("+#\0"):
        problems.add((*path, "topic"), f'"{topic}" cannot be published to', "write a topic without + and #")
    if document.mqtt is None:
        problems.add((*path, "kind"), "there is no broker to publish to", "add an [mqtt] section")


def check_mqtt(document: Document, problems: Problems) -> None:
    """Check topic filters, the keys that each payload form needs, and the broker's certificate files."""
    if document.mqtt is None:
        return
    _check_host(document.mqtt.host, problems)
    seen: set[str] = set()
    for index, subscription in enumerate(document.mqtt.subscriptions):
        path: KeyPath = ("mqtt", "subscriptions", index)
        fault = topic_fault(subscription.topic)
        if fault is not None:
            right = 'write a filter such as "nodes/+/senml" or "yard/#"'
            problems.add((*path, "topic"), f'"{subscription.topic}" {fault}', right)
        if subscription.topic in seen:
            problems.add((*path, "topic"), f'"{subscription.topic}" is subscribed to already', "leave one out")
        seen.add(subscription.topic)
        _check_form(subscription, path, problems)
    _check_broker(document.mqtt, problems)


def _check_broker(part: MqttPart, problems: Problems) -> None:
    if not part.client_id:
        problems.add(("mqtt", "client_id"), "it is empty", "write a name that no other client of the broker has")
    for key, longest, said in (("keep_alive", KEEPALIVE_S_MAX, "18h"), ("session_expiry", EXPIRY_S_MAX, "365d")):
        if getattr(part, key) // 1000 > longest:
            problems.add(("mqtt", key), "that is longer than MQTT can say", f'write "{said}" or less')
    if (part.cert_file is None) != (part.key_file is None):
        given, other = ("cert_file", "key_file") if part.cert_file else ("key_file", "cert_file")
        problems.add(("mqtt", given), f"it needs {other} beside it", f"add {other}")
    for key in ("ca_file", "cert_file"):
        if getattr(part, key) is not None and not part.tls:
            problems.add(("mqtt", key), "without TLS it has no effect", "add tls = true, or leave it out")
    if part.username is None and (part.password or part.password_file):
        key = "password" if part.password else "password_file"
        problems.add(("mqtt", key), "a password needs a user name", "add username")


def _check_host(host: str, problems: Problems) -> None:
    """Check that a host is a name or a bare address: the port, TLS and the user have keys of their own."""
    try:
        ipaddress.ip_address(host)
    except ValueError:
        found = _HOST_IN_MORE.fullmatch(host)
        if found is not None and found[1] != host:
            port = f" and port = {found[2]}" if found[2] else ""
            right = f'write host = "{found[1]}"{port}'
            problems.add(("mqtt", "host"), "it holds more than the name of a host", right)
        elif found is None and (not host.strip() or re.search(r"[\s/@]", host)):
            problems.add(("mqtt", "host"), "it is no name of a host", 'write host = "broker.example" or an address')


def address_pattern(part: SubscriptionPart) -> str | None:
    """Return the pattern that extracts the address from a topic: the written one, else the filter with its first `+`."""
    if part.address is not None or PAYLOAD_FORMS[part.form].names_probes or part.probe is not None or "{" in part.topic:
        return part.address
    return part.topic.replace("+", "{probe}", 1) if "+" in part.topic else None


def _check_form(subscription: SubscriptionPart, path: KeyPath, problems: Problems) -> None:
    form = PAYLOAD_FORMS[subscription.form]
    pointers = {"value": subscription.value, "time": subscription.time, "probe": subscription.probe}
    for key, pointer in pointers.items():
        if pointer is not None and not form.pointers:
            wrong = f'the form "{subscription.form}" has no pointers'
            problems.add((*path, key), wrong, f'leave it out, or write form = "{JSON.word}"')
        elif pointer is not None and not _is_read_by(parse_pointer, pointer):
            problems.add((*path, key), f'"{pointer}" is no JSON pointer', 'write it such as "/data/temperature"')
    if form.pointers and subscription.value is None:
        problems.add((*path, "value"), "it is missing", f'every subscription of form "{form.word}" points to its value')
    check_unit(subscription.unit, subscription.quantity, path, problems)
    right = 'write "{probe}" for the level that names it, such as "nodes/{probe}/{quantity}"'
    topic = subscription.topic
    pattern = subscription.address or (topic if "{" in topic else address_pattern(subscription))
    key = "address" if subscription.address is not None else "topic"
    if form.names_probes:
        if pattern is not None:
            problems.add((*path, key), f"{form.title} names its probes itself", "write a plain topic filter")
    elif pattern is not None and not _is_read_by(TopicPattern, pattern):
        problems.add((*path, key), f'"{pattern}" is no topic pattern', right)
    elif pattern is None and subscription.probe is None:
        problems.add((*path, key), "nothing in it names the probe", right)


def _is_read_by(read: Callable[[str], object], text: str) -> bool:
    try:
        read(text)
    except ValueError:
        return False
    return True


def check_unit(unit: str | None, quantity: Quantity | None, path: KeyPath, problems: Problems) -> None:
    """Check that a unit belongs to its quantity, or to any quantity if the probe itself states one.

    Args:
        unit: As written; None: nothing to check.
        quantity: Quantity of the subscription; None: that of the probe.
        path: Table that holds the unit, for the fault.
        problems: Receives the fault.
    """
    known = list(UNITS_OF[quantity]) if quantity is not None else sorted({u for us in UNITS_OF.values() for u in us})
    if unit is not None and unit_code(unit) not in known:
        wrong = f'"{unit}" is no unit' + (f" of {quantity}" if quantity is not None else "")
        problems.add((*path, "unit"), wrong, f"write {one_of([chr(34) + name + chr(34) for name in known])}")


def check_serial(document: Document, problems: Problems) -> None:
    """Check that no port is opened twice."""
    urls: dict[str, str] = {}
    for name, port in document.serial.items():
        path: KeyPath = ("serial", name)
        if not port.url:
            problems.add((*path, "url"), "it is empty", 'write a device such as "/dev/ttyUSB0", or a pyserial URL')
        if port.url in urls:
            problems.add((*path, "url"), f'"{port.url}" is read by "{urls[port.url]}" already', "leave one out")
        urls.setdefault(port.url, name)


def check_addresses(document: Document, problems: Problems) -> None:
    """Check that addresses outside the yard look like addresses."""
    if document.mirror is not None and not re.match(r"https?://\S+", document.mirror.url):
        right = 'write it such as "http://127.0.0.1:8086"'
        problems.add(("mirror", "url"), f'"{document.mirror.url}" is no address of a web server', right)
    if document.mirror is not None and any(sign in '\\"' or not sign.isprintable() for sign in document.mirror.yard):
        right = 'write a word such as "tern"'
        problems.add(("mirror", "yard"), "the name of a yard is plain text in one line", right)
    link = document.page.link
    if link is not None and not re.match(r"https?://\S+", link):
        problems.add(("page", "link"), f'"{link}" is no link', 'write it such as "http://yard.example:8460"')
    for name, channel in document.channels.items():
        if channel.url is not None and not _URL.fullmatch(channel.url.get_secret_value()):
            right = 'write one such as "mailto://...", or "json://host/path"'
            problems.add(("channels", name, "url"), "it is no notification URL", right)
    beat = document.heartbeat.url if document.heartbeat is not None else None
    if beat is not None and not re.match(r"https?://\S+", beat.get_secret_value()):
        problems.add(("heartbeat", "url"), "it is no address of a web server", 'write "https://..."')
