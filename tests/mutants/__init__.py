"""Mutants: small faults put into the program, to see whether a test notices (`python -m tests.mutants --help`)."""
