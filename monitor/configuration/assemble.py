"""Makes the connections out of a checked document: reads secrets, makes paths absolute.

Rules: a secret stands in the file or in a file of its own, never in both; paths are relative to the configuration file;
nothing is connected.
"""

from pathlib import Path

from pydantic import SecretStr

from monitor.configuration import configured, quantities
from monitor.configuration.config_document import ChannelPart, Document, SubscriptionPart
from monitor.configuration.config_problems import KeyPath, Problems
from monitor.configuration.connection_keys import address_pattern
from monitor.configuration.settings_maker import read_amount
from monitor.model.connections import MqttConnection, SerialPort, Subscription
from monitor.model.evening import EveningPolicy
from monitor.model.settings import METRICS_TOKEN_LEAST, PASSWORD_LENGTHS
from monitor.model.units import unit_code


class ConnectionBuilder:
    """Builds the connections of one document; reports faults to `problems` and puts a default in their place."""

    def __init__(self, document: Document, folder: Path, problems: Problems) -> None:
        """Take a document of the right shape and the folder that relative paths start from."""
        self._document = document
        self._folder = folder
        self._problems = problems
        self.secret_files: list[Path] = []
        """Files that secrets were read from."""

    def _path(self, path: KeyPath, text: str | None) -> Path | None:
        if text is None:
            return None
        try:
            return (self._folder / Path(text).expanduser()).resolve()
        except RuntimeError:
            self._problems.add(path, f'"{text}" begins with a home folder that is not there', "write the whole path")
            return None

    def data(self) -> Path:
        """Return the folder of the journal."""
        return self._path(("site", "data"), self._document.site.data) or self._folder

    def _secret(self, path: KeyPath, given: SecretStr | None, file: str | None) -> SecretStr | None:
        """Return a secret from the configuration or from a file of its own, or None if neither is given."""
        key = str(path[-1])
        file_path: KeyPath = (*path[:-1], f"{key}_file")
        if file is None:
            return given
        if given is not None:
            self._problems.add(file_path, f"it stands beside {key}", "write only one of them")
            return given
        where = self._path(file_path, file)
        if where is None:
            return None
        self.secret_files.append(where)
        try:
            text = where.read_text(encoding="utf-8").strip()
        except (OSError, UnicodeDecodeError) as fault:
            reason = fault.strerror if isinstance(fault, OSError) else "it is not UTF-8 text"
            right = "write the path of a text file that this user may read"
            self._problems.add(file_path, f"{where} cannot be read ({reason})", right)
            return None
        if not text:
            self._problems.add(file_path, f"{where} is empty", f"put the {key} in it, on one line")
            return None
        return SecretStr(text)

    def mqtt(self) -> MqttConnection | None:
        """Return the broker, if one is configured."""
        part = self._document.mqtt
        if part is None:
            return None
        password = self._secret(("mqtt", "password"), part.password, part.password_file)
        ca_file, cert_file, key_file = (
            None if path is None else str(path)
            for path in (self._path(("mqtt", key), getattr(part, key)) for key in ("ca_file", "cert_file", "key_file"))
        )
        if self._problems.under("mqtt"):
            return None
        return MqttConnection(
            host=part.host,
            port=part.port if part.port is not None else (8883 if part.tls else 1883),
            client_id=part.client_id,
            version=part.version,
            username=part.username,
            password=None if password is None else password.get_secret_value(),
            tls=part.tls,
            ca_file=ca_file,
            cert_file=cert_file,
            key_file=key_file,
            keepalive_s=max(5, part.keep_alive // 1000),
            session_expiry_s=max(1, part.session_expiry // 1000),
            subscriptions=tuple(_subscription(subscription) for subscription in part.subscriptions),
        )

    def serial(self) -> dict[str, SerialPort]:
        """Return the serial ports by their names."""
        if self._problems.under("serial"):
            return {}
        return {
            name: SerialPort(name=name, url=port.url, baud=port.baud, form=port.form)
            for name, port in self._document.serial.items()
        }

    def channels(self) -> dict[str, configured.Channel]:
        """Return the channels by their names; the page is always one."""
        channels = {name: self._channel(name, channel) for name, channel in self._document.channels.items()}
        return {**channels, configured.PAGE_CHANNEL: configured.Channel(kind="page")}

    def _channel(self, name: str, part: ChannelPart) -> configured.Channel:
        if part.kind == "mqtt":
            return configured.Channel(kind="mqtt", topic=part.topic)
        path: KeyPath = ("channels", name, "url")
        if part.url is None and part.url_file is None:
            self._problems.add(path, "it is missing", 'write url or url_file, or kind = "mqtt" and a topic')
        return configured.Channel(kind="url", url=self._secret(path, part.url, part.url_file))

    def mirror(self) -> configured.Mirror | None:
        """Return the mirror, if one is configured."""
        part = self._document.mirror
        if part is None:
            return None
        token = self._secret(("mirror", "token"), part.token, part.token_file)
        url = part.url.rstrip("/")
        return configured.Mirror(url=url, org=part.org, bucket=part.bucket, token=token, yard=part.yard.strip())

    def heartbeat(self) -> configured.Heartbeat | None:
        """Return the outside heartbeat, if one is configured."""
        part = self._document.heartbeat
        if part is None:
            return None
        url = self._secret(("heartbeat", "url"), part.url, part.url_file)
        if part.url is None and part.url_file is None:
            self._problems.add(("heartbeat", "url"), "it is missing", "write url or url_file")
        if part.every < 10_000:
            self._problems.add(("heartbeat", "every"), "that is more often than every 10 s", 'write "5m" or the like')
        return None if url is None else configured.Heartbeat(url=url, every_ms=part.every)

    def retention_keep_ms(self) -> int | None:
        """Return the time for which days are kept, ms, or None for ever."""
        keep = self._document.retention.keep
        if keep == "forever":
            return None
        path: KeyPath = ("retention", "keep")
        kept = read_amount(self._problems, path, lambda: quantities.duration_ms(keep, '730d", or "forever'))
        if kept is not None and kept < 86_400_000:
            self._problems.add(path, "that is less than a day", 'write "730d" or "forever"')
        return kept

    def photos_most(self) -> int:
        """Return the room for all photos together, bytes; 0: none are taken."""
        most = self._document.photos.most
        if most > configured.PHOTOS_LIMIT:
            self._problems.add(("photos", "most"), "that is more than 4 GB", 'write "4 GB" or less')
        return most

    def evening(self) -> EveningPolicy:
        """Return the settings of the word of the evening before."""
        part = self._document.evening
        return EveningPolicy(
            tell=part.tell, frost=part.frost, minute=part.at, within_milli_k=part.within, days=part.days
        )

    def forecast_file(self) -> Path | None:
        """Return the file that forecasts are read from, if any is named; it need not be there yet."""
        return self._path(("evening", "file"), self._document.evening.file)

    def backup(self) -> configured.Backup | None:
        """Return the settings for copies of the journal, if any are made."""
        part = self._document.backup
        folder = self._path(("backup", "folder"), part.folder) if part is not None else None
        if part is None or folder is None:
            return None
        return configured.Backup(folder=folder, every_ms=part.every, keep=part.keep)

    def page(self) -> configured.Page:
        """Return the settings of the page."""
        part = self._document.page
        host = f"[{part.listen}]" if ":" in part.listen else part.listen
        shown = "127.0.0.1" if host in {"0.0.0.0", "[::]"} else host  # noqa: S104 - compared, never bound
        link = part.link or f"http://{shown}:{part.port}"
        return configured.Page(
            on=part.on,
            port=part.port,
            listen=part.listen,
            link=link.rstrip("/"),
            hosts=tuple(one.strip().rstrip(".").lower() for one in part.hosts),
            password=self._page_password(),
            metrics_token=self._metrics_token(),
        )

    def _metrics_token(self) -> SecretStr | None:
        part = self._document.page
        token = self._secret(("page", "metrics_token"), part.metrics_token, part.metrics_token_file)
        if token is not None and len(token.get_secret_value()) < METRICS_TOKEN_LEAST:
            key = "metrics_token_file" if part.metrics_token is None else "metrics_token"
            right = "take one from `openssl rand -hex 20`"
            self._problems.add(("page", key), f"the token is shorter than {METRICS_TOKEN_LEAST} characters", right)
        return token

    def _page_password(self) -> SecretStr | None:
        part = self._document.page
        password = self._secret(("page", "password"), part.password, part.password_file)
        if password is None:
            return None
        shortest, longest = PASSWORD_LENGTHS
        length = len(password.get_secret_value())
        if not shortest <= length <= longest:
            key = "password_file" if part.password is None else "password"
            wrong = f"the password has {length} character{'' if length == 1 else 's'}"
            self._problems.add(("page", key), wrong, f"take {shortest} to {longest}, such as four words in a row")
        return password


def _subscription(part: SubscriptionPart) -> Subscription:
    return Subscription(
        topic=part.topic,
        form=part.form,
        address=address_pattern(part),
        quantity=part.quantity,
        unit=unit_code(part.unit) if part.unit is not None else None,
        value=part.value,
        time=part.time,
        probe=part.probe,
    )
