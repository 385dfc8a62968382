"""Decides who may come in: the gate, sessions, the password, guest links, links in messages, limits on tries."""
