"""`python -m boostwright` is the command `boostwright`."""

from boostwright.cli import main

main()
