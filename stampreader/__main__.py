"""`python -m stampreader` is the same as the command `stampreader`."""

from stampreader.cli import main

main()
