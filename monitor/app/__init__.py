"""The top floor: what people start, and what joins the parts below.

Each room is a folder; imports between rooms go down this list only (a contract in `pyproject.toml`):

- `command`, `commands/`: the command line, a file for each command.
- `daemon/`: what `run` and `demo` start. `checks/`: what `check` looks at. `files/`: what `import` takes and `export` writes.
- `tuning_report/`, `tuning_run/`: what `tune` answers, and what it runs.
- `page_ports/`: joins the page to the daemon. `upkeep/`: what runs by the wall clock.
- `loop/`: the writer's loop. `replay/`: recordings through the engine in memory. `cases/`: what a certificate is made of.
- `connections/`: running sources and channels. `entries/`: what people write down.
- `yard/`: the yard as the journal has it. `console/`: what every command shares.
"""
