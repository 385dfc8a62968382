"""The web server: listens on its own thread, limits connections, knows all addresses, and feeds open lines."""
