"""Make the stored jobs that the tests of the record read: tests/data/records/NAME.jsonl.gz.

.venv/bin/python -m tests.server.record.make_data

Each is a service in closed loop: what the kit's spool held, message by message, as it goes over
the wire. The scale is thinned to one reading in 2 s, the pan to one in 10 s, and the
converter's own temperature left out, so that the files stay small; nothing else is changed.
"""

import gzip
import json
import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import closing
from itertools import groupby
from pathlib import Path

from drainscale.messages.codec import decode, encode
from drainscale.messages.records import Envelope, Samples
from drainscale.messages.topics import BenchId
from drainscale.quantities.samples import BoardReading, PanReading, Sample, ScaleCount
from drainscale_sim.closed_loop.service import Place, serve_scenario

FOLDER = Path(__file__).parents[2] / "data/records"
JOBS = {"standpipe": ("standpipe", 1), "faults": ("faults", 5), "overrun": ("overrun", 1)}
SCALE_EVERY_S = 2.0
PAN_EVERY_S = 10.0
PACK_S = 20.0
BENCH = BenchId("north", "bay-1")


def main() -> None:
    """Write the files."""
    FOLDER.mkdir(exist_ok=True)
    for name, (scenario, seed) in JOBS.items():
        with tempfile.TemporaryDirectory() as folder:
            serve_scenario(scenario, seed, Path(folder))
            told = [*_thinned(_messages(Place(Path(folder)).spool))]
        lines = [
            json.dumps([one.leaf, encode(one).decode()], ensure_ascii=False) + "\n" for one in told
        ]
        file = gzip.compress("".join(lines).encode(), mtime=0)
        (FOLDER / f"{name}.jsonl.gz").write_bytes(file)


def _messages(spool: Path) -> list[Envelope]:
    with closing(sqlite3.connect(spool)) as db:
        rows = db.execute("SELECT leaf, payload FROM messages ORDER BY boot, seq").fetchall()
    told = [decode(BENCH.topic(leaf), payload) for leaf, payload in rows]
    return [one for one in told if isinstance(one, Envelope)]


def _thinned(told: list[Envelope]) -> Iterator[Envelope]:
    """Put samples into fewer packs, and number all anew."""
    seq = 0
    for _, run in groupby(told, key=_place):
        envelopes = list(run)
        first = envelopes[0].body
        if isinstance(first, Samples):
            bodies = [one.body for one in envelopes if isinstance(one.body, Samples)]
            samples = tuple(_fewer([one for body in bodies for one in body.samples]))
            envelopes = [_with(envelopes[0], samples, first)] if samples else []
        for one in envelopes:
            seq += 1
            yield Envelope(
                site=one.site, bench=one.bench, boot="made", seq=seq, job="j-made", body=one.body
            )


def _place(one: Envelope) -> tuple[bool, int]:
    if isinstance(one.body, Samples):
        return True, int(one.body.samples[0].t / PACK_S)
    return False, one.seq


def _with(envelope: Envelope, samples: tuple[Sample, ...], body: Samples) -> Envelope:
    thin = Samples(base_time_s=body.base_time_s, is_clock_set=body.is_clock_set, samples=samples)
    return Envelope(
        site=envelope.site, bench=envelope.bench, boot=envelope.boot, seq=envelope.seq, body=thin
    )


def _fewer(samples: list[Sample]) -> Iterator[Sample]:
    last: dict[object, float] = {}
    for one in samples:
        if isinstance(one, BoardReading):
            continue
        if isinstance(one, ScaleCount | PanReading):
            kind = one.is_supply if isinstance(one, ScaleCount) else PanReading
            every_s = SCALE_EVERY_S if isinstance(one, ScaleCount) else PAN_EVERY_S
            if one.t - last.get(kind, float("-inf")) < every_s - 0.05:
                continue
            last[kind] = one.t
        yield one


if __name__ == "__main__":
    main()
