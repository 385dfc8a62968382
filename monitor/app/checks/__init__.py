"""What `check` looks at: settings, connections, the record and the page's address."""
