"""The checks behind `check`: settings, connections, the record and the page's address."""
