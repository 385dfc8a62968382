"""Bytes to values: decoders for nodes' messages, and the admission of values as readings of probes."""

from monitor.codec.admission import Admission, Refused, shown_time, units_of
from monitor.codec.decoded import LIMIT_BYTES, NOTHING, Decoded, Decoder, Reject, excerpt
from monitor.codec.forms import decoder_of
from monitor.codec.number import NumberDecoder
from monitor.codec.patterns import TopicPattern
from monitor.codec.photo_bytes import PHOTO_MOST, lying, plain_photo, too_large
from monitor.codec.pointers import PointerDecoder, PointerForm, parse_pointer
from monitor.codec.senml import decode_senml
from monitor.codec.serial_lines import LineSplitter, checksum, decode_line, encode_line
