"""Turns the forms of the page into events, or into a sentence that says what is wrong."""
