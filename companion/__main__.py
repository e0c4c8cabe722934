"""`python -m companion` is the same as the `companion` command."""

from companion.cli import main

main()
