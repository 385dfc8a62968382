"""`verify`: checks a certificate."""

from pathlib import Path

import click

from monitor.app.console.options import json_option, print_json
from monitor.model.errors import MisuseError, UnavailableError

_LARGEST = 500_000_000


@click.command()
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--key", "key_file", type=click.Path(path_type=Path), help="The yard's public key or certificate (PEM).")
@json_option
def command(file: Path, key_file: Path | None, as_json: bool) -> int:
    """Check a certificate: whether it has changed since it was signed, and whether its own readings support its verdict.

    The file is enough. Only the yard's public key can tell whether the yard's key signed it; get that key from the yard itself,
    not along with the file. Ends with 0 if all is well, 1 if it is not, and 3 if the pages could not be compared with the
    record: then trust the verdict printed here, not the one on the pages.

    \b
    Examples:
      heaptender verify bay1.pdf
      heaptender verify bay1.pdf --key tern-hollow.pem
    """
    pdf = _bytes_of(file)
    from monitor.app.cases.csv_format import ReadingsCsv  # noqa: PLC0415 (so that --help stays quick)
    from monitor.certificate import read_public_key, verify  # noqa: PLC0415

    public_key = read_public_key(key_file) if key_file is not None else None
    found = verify(pdf, ReadingsCsv(), public_key)
    if as_json:
        print_json(
            {
                "ok": found.ok,
                "pages_compared": found.pages_compared,
                "verdict": found.verdict,
                "key": found.key_id,
                "sentences": found.sentences,
                "faults": found.faults,
            }
        )
    else:
        for sentence in dict.fromkeys((*found.faults, *found.sentences)):
            click.echo(sentence)
    if not found.ok:
        return 1
    # Pages that could not be compared may print another verdict than the record gives.
    return 0 if found.pages_compared else 3


def _bytes_of(file: Path) -> bytes:
    try:
        if file.stat().st_size > _LARGEST:
            raise MisuseError(f"{file} is larger than {_LARGEST // 1_000_000} MB; no certificate is.")
        return file.read_bytes()
    except FileNotFoundError as fault:
        raise MisuseError(f"{file} does not exist; name the certificate's PDF file.") from fault
    except IsADirectoryError as fault:
        raise MisuseError(f"{file} is a folder; name the certificate's PDF file.") from fault
    except OSError as fault:
        raise UnavailableError(f"{file} cannot be read ({fault.strerror}).") from fault
