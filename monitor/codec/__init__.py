"""Bytes to values: decoders for nodes' messages, and the admission of values as readings of probes."""

from monitor.codec.admission import RAW_UNIT, Admission, Refused, default_unit, shown_time, units_of
from monitor.codec.decoded import LIMIT_BYTES, LIMIT_DEPTH, NOTHING, Decoded, Decoder, Reject, excerpt
from monitor.codec.forms import decoder_of
from monitor.codec.number import NumberDecoder
from monitor.codec.patterns import TopicAddress, TopicPattern
from monitor.codec.pointers import PointerDecoder, PointerForm, parse_pointer
from monitor.codec.senml import decode_senml
from monitor.codec.serial_lines import LineSplitter, checksum, decode_line, encode_line

__all__ = [
    "LIMIT_BYTES",
    "LIMIT_DEPTH",
    "NOTHING",
    "RAW_UNIT",
    "Admission",
    "Decoded",
    "Decoder",
    "LineSplitter",
    "NumberDecoder",
    "PointerDecoder",
    "PointerForm",
    "Refused",
    "Reject",
    "TopicAddress",
    "TopicPattern",
    "checksum",
    "decode_line",
    "decode_senml",
    "decoder_of",
    "default_unit",
    "encode_line",
    "excerpt",
    "parse_pointer",
    "shown_time",
    "units_of",
]
