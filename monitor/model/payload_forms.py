"""The one declaration of each form that an MQTT payload can have; the decoders stand in `codec/forms.py`.

To add a form, add its row here and its decoder there; the configuration, its checks and the documentation take it from here.
"""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class PayloadForm:
    """One form of payloads.

    Attributes:
        word: Its word in the configuration.
        title: Its name for people.
        names_probes: Whether a payload itself names the probe of each value; otherwise topic or pointer do.
        pointers: Whether JSON pointers of the subscription name its parts.
    """

    word: str
    title: str
    names_probes: bool = False
    pointers: bool = False


SENML = PayloadForm(word="senml", title="SenML", names_probes=True)
NUMBER = PayloadForm(word="number", title="The value alone")
JSON = PayloadForm(word="json", title="JSON of which pointers name the parts", pointers=True)

PAYLOAD_FORMS: dict[str, PayloadForm] = {form.word: form for form in (SENML, NUMBER, JSON)}
