"""Run the command line with `python -m conserve`."""

import sys

from conserve.cli import main

if __name__ == "__main__":
    sys.exit(main())
