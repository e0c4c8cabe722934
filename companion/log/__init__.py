"""The session log on SQLite: append, read, export, backup, purge."""
