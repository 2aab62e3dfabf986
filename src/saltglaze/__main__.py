"""``python -m saltglaze``."""

from saltglaze.cli import main

main()
