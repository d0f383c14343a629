"""`python -m kiosk` is the `kiosk` command."""

from kiosk.cli import main

main()
