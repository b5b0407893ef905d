"""Takes in what comes until it is killed: for the tests of kills.

    python -m tests.server.ingest.steady_intake STORE PORT

One line after each commit: how many messages were new.
"""

import sys
import threading
from pathlib import Path

from drainscale_server.ingest.connection import BrokerAccess
from drainscale_server.ingest.intake import Intake
from drainscale_server.ingest.listeners import Stored
from drainscale_server.store.store import Store


def main() -> None:
    store = Store(Path(sys.argv[1]))
    intake = Intake(store, BrokerAccess(port=int(sys.argv[2])), pause_s=0.02)
    intake.listeners.stored.append(tell)
    intake.start()
    threading.Event().wait()


def tell(stored: list[Stored]) -> None:
    sys.stdout.write(f"{len(stored)}\n")
    sys.stdout.flush()


if __name__ == "__main__":
    main()
