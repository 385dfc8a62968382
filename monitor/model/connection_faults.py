"""Reasons why a connection fails, in one sentence with what to do; the same words for brokers, mail and web servers.

The words of other people's code are only examined, never repeated: they may hold an address with its secrets. Exceptions are
recognised by their names, so that nothing here can reach a network.
"""

import errno
import re
from enum import StrEnum
from typing import NamedTuple


class Fault(StrEnum):
    """Kinds of faults, by what a person must do."""

    NAME = "name"
    NOBODY = "nobody"
    NO_WAY = "no way"
    SILENT = "silent"
    UNKNOWN_CERTIFICATE = "unknown certificate"
    WRONG_NAME = "wrong name"
    EXPIRED = "expired"
    OUR_CERTIFICATE = "our certificate"
    NO_TLS = "no tls"
    WANTS_TLS = "wants tls"
    LOGIN = "login"
    WANTS_STARTTLS = "wants starttls"
    NO_STARTTLS = "no starttls"
    NO_LOGIN = "no login"
    ADDRESS = "address"
    BROKE_OFF = "broke off"


class Where(NamedTuple):
    """The other end: its name in a sentence, host and port ("" if they are secret), the keys to mend."""

    what: str
    host: str
    address: str
    authority: str
    tls: str
    login: str


PASSING = frozenset({Fault.NOBODY, Fault.NO_WAY, Fault.SILENT, Fault.BROKE_OFF})
"""Faults that may pass by themselves; a person must hear of the others even if the connection is down already."""


def sentence(fault: Fault, where: Where) -> str:
    """Return the fault and the remedy, without a full stop."""
    at = f"{where.what} at {where.address}" if where.address else where.what
    host = f'"{where.host}"' if where.host else f"of {where.what}"
    return {
        Fault.NAME: f"the name {host} is not known; check its spelling, and this computer's name server",
        Fault.NOBODY: f"nobody listens where {at} should be; start it, or mend host and port",
        Fault.NO_WAY: f"there is no way to {at}; check network, cable and address",
        Fault.SILENT: f"{at} gives no answer in time; check address, network and firewall",
        Fault.UNKNOWN_CERTIFICATE: f"the certificate of {at} is signed by no authority known here; {where.authority}",
        Fault.WRONG_NAME: f"the certificate of {at} is for another name; write the name that stands in it as host",
        Fault.EXPIRED: f"the certificate of {at} is not valid today; renew it, or set this computer's clock",
        Fault.OUR_CERTIFICATE: f"{at} does not take our certificate; give it one that it knows (`cert_file`, `key_file`)",
        Fault.NO_TLS: f"{at} does not speak TLS there; use its TLS port, or {where.tls}",
        Fault.WANTS_TLS: f"{at} closes without a word, as a TLS port does when it is spoken to in plain; {where.tls}",
        Fault.LOGIN: f"{at} refuses the login; mend {where.login}",
        Fault.WANTS_STARTTLS: f"{at} wants STARTTLS before a login; write `mailtos://` with `mode=starttls`",
        Fault.NO_STARTTLS: f"{at} offers no STARTTLS; write `mode=ssl` with its TLS port, or `mode=insecure`",
        Fault.NO_LOGIN: (
            f"{at} takes no login as it is spoken to; where it wants TLS first, write `mailtos://` with `mode=starttls`, "
            "else leave out user and password, or use the port meant for it"
        ),
        Fault.ADDRESS: f"{at} refuses the sender or the address; mend `from` and `to`",
        Fault.BROKE_OFF: f"{at} breaks off; its own log says why",
    }[fault]


def fault_of(fault: BaseException) -> Fault | None:
    """Return the fault behind an exception of a socket, of TLS or of a library above them, or None."""
    kinds = {kind.__name__ for kind in type(fault).__mro__}
    if "SSLCertVerificationError" in kinds:
        # Source: OpenSSL's verify codes; 62 is another host's name, 64 another address, 9 and 10 the days.
        return {62: Fault.WRONG_NAME, 64: Fault.WRONG_NAME, 9: Fault.EXPIRED, 10: Fault.EXPIRED}.get(
            getattr(fault, "verify_code", 0), Fault.UNKNOWN_CERTIFICATE
        )
    if "SSLError" in kinds:
        return _by_text(str(fault)) or Fault.NO_TLS
    if "gaierror" in kinds:
        return Fault.NAME
    if isinstance(fault, TimeoutError):
        return Fault.SILENT
    if isinstance(fault, OSError):
        return _BY_NUMBER.get(fault.errno or 0) or _by_text(str(fault))
    return _by_text(str(fault))


def fault_in(said: str) -> Fault | None:
    """Return the fault behind a library's own words, or None; the words themselves are never shown."""
    return _by_text(said)


_BY_NUMBER = {
    errno.ECONNREFUSED: Fault.NOBODY,
    errno.ENETUNREACH: Fault.NO_WAY,
    errno.EHOSTUNREACH: Fault.NO_WAY,
    errno.ENETDOWN: Fault.NO_WAY,
    errno.ETIMEDOUT: Fault.SILENT,
    errno.ECONNRESET: Fault.BROKE_OFF,
    errno.EPIPE: Fault.BROKE_OFF,
}

_TEXTS: tuple[tuple[str, Fault], ...] = (
    (r"hostname mismatch|ip address mismatch|not valid for|doesn't match", Fault.WRONG_NAME),
    (r"certificate has expired|not yet valid", Fault.EXPIRED),
    (r"certificate_verify_failed|self.signed|unable to get local issuer", Fault.UNKNOWN_CERTIFICATE),
    (r"alert (unknown ca|bad certificate|certificate required|handshake failure)|certificate_required",
     Fault.OUR_CERTIFICATE),
    (r"wrong_version_number|wrong version number|http_request|record layer failure|unexpected_eof", Fault.NO_TLS),
    (r"must issue a? ?starttls|starttls (first|command first|required)|5\.7\.0.{0,20}starttls", Fault.WANTS_STARTTLS),
    (r"starttls extension not supported", Fault.NO_STARTTLS),
    (r"auth extension not supported|no suitable authentication", Fault.NO_LOGIN),
    (r"\(53[0458],|5\.7\.8|authentication (failed|credentials)|not authorized|bad user ?name", Fault.LOGIN),
    (r"\(55[0-9],|recipients? refused|sender (address )?rejected|5\.1\.", Fault.ADDRESS),
    (r"name or service not known|name resolution|nodename nor servname|getaddrinfo|nameresolution", Fault.NAME),
    (r"connection refused|errno 111", Fault.NOBODY),
    (r"no route to host|network is unreachable|errno 10[13]|errno 113", Fault.NO_WAY),
    (r"timed out|timeout", Fault.SILENT),
    (r"connection (reset|aborted|unexpectedly closed)|broken pipe|remote end closed|server disconnected",
     Fault.BROKE_OFF),
)  # fmt: skip


def _by_text(said: str) -> Fault | None:
    text = said.lower()
    return next((fault for pattern, fault in _TEXTS if re.search(pattern, text)), None)
