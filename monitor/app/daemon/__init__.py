"""What `run` and `demo` start: everything wired together, and ended in order."""
