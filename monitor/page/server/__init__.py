"""The web server: listens on a thread of its own, bounds connections, knows all addresses, and keeps open lines live."""
