"""``python -m drainscale_sim.bench``."""

import sys

from drainscale_sim.bench.command import main

sys.exit(main(sys.argv[1:]))
