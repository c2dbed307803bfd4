"""``python -m eavesong``."""

from eavesong.cli import main

main()
