"""Run a world as a process of its own: `python -m drainscale_sim.world --socket PATH`."""

import sys

from drainscale_sim.world.server import main

if __name__ == "__main__":
    sys.exit(main())
