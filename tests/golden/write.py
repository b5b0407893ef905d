"""Write the golden files of the present format that are not there yet; never writes over one.

.venv/bin/python -m tests.golden.write
"""

import sqlite3
import tempfile
from contextlib import closing
from pathlib import Path

from tests.kit.messages.examples import one_of_each
from tests.kit.uplink.made_up import BAY_3, OPENED, samples_of

from drainscale.messages.codec import encode
from drainscale.messages.records import FORMAT
from drainscale.uplink.batches import Entry, RunningJob, pack_of
from drainscale.uplink.spool import Spool

FOLDER = Path(__file__).parent / f"format-{FORMAT}"


def spool_as_sql() -> str:
    """Write a spool with two starts of the agent, half acknowledged, and dump it."""
    running = RunningJob("j-1", OPENED)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "spool"
        first = Spool(path, BAY_3, boot="first")
        first.append([Entry("j-1", OPENED), Entry("j-1", pack_of(running, samples_of(0, 10)))])
        first.acknowledge("first", 1)
        first.close()
        second = Spool(path, BAY_3, boot="second")
        second.append([Entry("j-1", pack_of(running, samples_of(50, 10)))])
        second.close()
        with closing(sqlite3.connect(path)) as db:
            pragmas = [
                f"PRAGMA {name} = {db.execute(f'PRAGMA {name}').fetchone()[0]};"
                for name in ("application_id", "user_version")
            ]
            return "\n".join([*db.iterdump(), *pragmas]) + "\n"


def main() -> None:
    FOLDER.mkdir(exist_ok=True)
    files = {f"{leaf}.json": encode(message) for leaf, message in one_of_each().items()}
    files["spool.sql"] = spool_as_sql().encode()
    for name, content in files.items():
        if not (FOLDER / name).exists():
            (FOLDER / name).write_bytes(content)


if __name__ == "__main__":
    main()
