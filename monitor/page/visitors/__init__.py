"""Who comes in: the gate before every address, sessions, the password, guest links, links of messages, limits on tries."""
