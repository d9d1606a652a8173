"""`python -m hidewright.cli`."""

from hidewright.cli import main

main()
