"""`python -m monitor` is the command `heaptender`."""

from monitor.app.command import main

main()
