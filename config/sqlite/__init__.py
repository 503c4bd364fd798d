"""Django's SQLite with one change: writers stand in a queue."""
