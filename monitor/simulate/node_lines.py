"""Lines as a made-up node sends them over the serial link."""

from monitor.codec import encode_line
from monitor.model.units import to_micro
from monitor.simulate.probe_errors import Sample


def wire_line(sample: Sample, *, timed: bool = True) -> bytes:
    """Return a sample as the node sends it: `probe quantity value unit [time]*CC` and a line feed."""
    micro = to_micro(sample.value)
    return encode_line(sample.probe, sample.quantity, micro, sample.unit, sample.time if timed else None)
