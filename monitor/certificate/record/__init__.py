"""All that a certificate says, as canonical JSON and packed rows; written, and read back."""

from monitor.certificate.record.attached_rows import MOST_ROWS, CsvFormat, CsvRows, gather_rows, pack, unpack
from monitor.certificate.record.restoring import restore_case, restore_imprint
from monitor.certificate.record.statement import (
    JSON_FILE,
    READINGS_FILE,
    Imprint,
    Tree,
    canonical,
    certificate_id,
    conditions,
    make_statement,
)
