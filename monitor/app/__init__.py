"""The top floor: everything that people start, and the joints between the parts below.

Each room is a folder; imports between rooms go down this list only (a contract in `pyproject.toml`):

- `command`, `commands/`: the command line, a file for each command.
- `daemon/`: the processes behind `run` and `demo`. `checks/`: the checks behind `check`. `files/`: `import` and `export`.
- `tuning_report/`, `tuning_run/`: the answers of `tune`, and its work.
- `page_ports/`: joins the page to the daemon. `upkeep/`: jobs that run by the wall clock.
- `loop/`: the writer's loop. `replay/`: recordings through the engine in memory. `cases/`: the contents of a certificate.
  `mixing/`: the mix as people ask for it and read it. `beds/`: the feeding plans of worm beds.
- `connections/`: running sources and channels. `entries/`: people's entries.
- `yard/`: the yard as the journal has it. `console/`: parts that every command shares.
"""
