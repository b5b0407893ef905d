"""``python -m drainscale_server.bench``."""

import sys

from drainscale_server.bench.command import main

sys.exit(main(sys.argv[1:]))
