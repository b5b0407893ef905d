"""``python -m drainscale``: the same as the command ``drainscale``."""

import sys

from drainscale.cli import run

if __name__ == "__main__":
    sys.exit(run())
