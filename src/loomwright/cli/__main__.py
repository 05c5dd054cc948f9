"""Run the terminal as `python -m loomwright.cli`."""

from __future__ import annotations

import sys

from loomwright.cli.entry import main

if __name__ == "__main__":
    sys.exit(main())
