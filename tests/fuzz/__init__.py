"""Coverage-guided fuzzing of everything that reads what others wrote: `python -m tests.fuzz PARSER --seconds N --seed S`."""
