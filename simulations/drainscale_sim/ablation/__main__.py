"""``python -m drainscale_sim.ablation``."""

import sys

from drainscale_sim.ablation.command import main

sys.exit(main(sys.argv[1:]))
