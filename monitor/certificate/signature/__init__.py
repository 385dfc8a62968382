"""The key, the signature, and the check that the bytes are those that were signed."""

from monitor.certificate.signature.keys import (
    SigningKey,
    key_id,
    open_key,
    parse_public_key,
    read_public_key,
    rotate_key,
)
from monitor.certificate.signature.seal import BrokenSeal, Seal, check_seal
from monitor.certificate.signature.signing import sign, unsealed
