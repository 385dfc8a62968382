"""The processes behind `run` and `demo`: they wire everything together and end it in order."""
