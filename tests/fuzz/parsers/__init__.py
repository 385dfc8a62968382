"""One file for each parser: its entry point, its laws, the errors that it may raise, and what to begin with."""
