"""Run Loomwright as `python -m loomwright`."""

import sys

from loomwright.cli import main

if __name__ == "__main__":
    sys.exit(main())
