"""A process that ends with the one that started it, however that one ends.

    python -m drainscale_sim.leash server --port 0      # a command of the kit's, on the leash

The starter holds the other end of the standard input and writes nothing. When it is gone, killed
outright included, the input ends, and the process is told to end as by a SIGTERM; if it does not
heed that, it ends all the same.
"""

import os
import signal
import sys
import threading
import time

from drainscale import cli

HEED_S = 20.0  # a server may have to finish what it holds


def hold() -> None:
    """Watch the standard input in a thread of its own."""
    threading.Thread(target=_watch, name="leash", daemon=True).start()


def _watch() -> None:
    try:
        while os.read(sys.stdin.fileno(), 1024):
            pass
    except OSError:  # no standard input is as good as an ended one
        pass
    os.kill(os.getpid(), signal.SIGTERM)
    time.sleep(HEED_S)
    os._exit(1)


if __name__ == "__main__":
    hold()
    sys.exit(cli.main(sys.argv[1:]))
