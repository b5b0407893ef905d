"""Writes to a spool until it is killed, and says what is on the disk: for the tests of kills.

    python -m tests.kit.uplink.steady_writer SPOOL [PORT]

One line after each commit: boot, last number, number of samples that are safe. Begins the job if
none is open, else goes on behind what is stored.
"""

import sys
from pathlib import Path

from tests.kit.uplink.made_up import BAY_3, OPENED, sample_at

from drainscale.uplink.broker import BrokerSettings
from drainscale.uplink.mqtt import MqttUplink, Retry
from drainscale.uplink.spool import Spool
from drainscale.uplink.writer import SpoolWriter

CHUNK_N = 37  # so that packs end at other places than chunks


def main() -> None:
    spool = Spool(Path(sys.argv[1]), BAY_3)
    running = spool.open_job()
    number = len(list(spool.samples(running.job))) if running is not None else 0
    if len(sys.argv) > 2:
        settings = BrokerSettings(port=int(sys.argv[2]))
        MqttUplink(spool, settings, now_s=lambda: 0.0, retry=Retry(0.02, 0.1)).start()
    with SpoolWriter(spool, running=running) as writer:
        if running is None:
            writer.begin_job("j-1", OPENED)
        while True:
            for _ in range(CHUNK_N):
                writer.add(sample_at(number))
                number += 1
            writer.flush(60.0)
            sys.stdout.write(f"{spool.boot} {spool.standings()[-1].last} {number}\n")
            sys.stdout.flush()


if __name__ == "__main__":
    main()
