"""companion.toml as validated values, one module a table; reading, changing and watching the file."""
