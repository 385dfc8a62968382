"""Joins the page to the daemon: the yard that it shows, the entries people make on it, its certificates and labels."""
