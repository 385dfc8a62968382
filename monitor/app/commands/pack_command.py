"""`pack`: puts everything of a yard into one file, for another computer."""

from pathlib import Path

import click

from monitor.app.console.options import config_option, json_option, load_configuration, print_json


@click.command()
@click.argument("file", type=click.Path(path_type=Path))
@config_option
@json_option
def command(file: Path, config_file: Path | None, as_json: bool) -> int:
    """Put everything of the yard into one file, for another computer: configuration, passwords, record, keys, certificates.

    The daemon must be stopped. `heaptender unpack FILE` puts it in place over there.

    \b
    Example:
      heaptender pack tern-hollow.yard
    """
    from monitor.app.upkeep.yard_archive import pack  # noqa: PLC0415 (so that --help stays quick)

    configuration = load_configuration(config_file)
    packed = pack(configuration, file)
    size = file.stat().st_size
    if as_json:
        print_json({"file": str(file), "bytes": size, "files": packed.files, "elsewhere": packed.elsewhere})
        return 0
    click.echo(f"{configuration.settings.site.name} is in {file}: {packed.files} files, {size / 1e6:.1f} MB.")
    click.echo(
        "It holds the passwords and the key that signs certificates: carry it as you would carry a key, and delete it when "
        "the yard runs over there. From now on start the daemon there only, not here."
    )
    for path in packed.elsewhere:
        click.echo(f"{path} lies outside the yard's folder; it is in the file, and unpack says where it belongs.")
    return 0
