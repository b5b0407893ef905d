"""Time how many messages a second get from the broker into the store, acknowledged.

Each message holds ten samples. The figures count from the first message published to the last one
acknowledged end to end, ``synchronous=FULL``. Publisher, broker and worker share the machine.
"""

import argparse
from collections.abc import Sequence
from statistics import median

from rich.console import Console
from rich.table import Table

from drainscale_server.bench.publisher import SAMPLES_N
from drainscale_server.bench.runs import Run, find_mosquitto, run

MUST = 2_000.0  # messages a second
AIM = 5_000.0
PLAIN_SHARE = 10  # the plain way gets so much fewer messages: it is slow, and as steady
EMBEDDED_SHARE = 4


def main(argv: Sequence[str]) -> int:
    """Run the command.

    Returns:
        0; 1 with ``--hold`` where the *must* is missed, or there is no Mosquitto.
    """
    asked = _parser().parse_args(argv)
    if find_mosquitto() is None:
        Console(stderr=True).print("bench: no mosquitto here, so no figure of the ingest")
        return 1 if asked.hold else 0
    runs: dict[str, list[Run]] = {"intake": [], "plain": [], "embedded": []}
    for _ in range(asked.rounds):  # one after the other, so that all see the same machine
        runs["plain"].append(run("plain", max(1, asked.messages // PLAIN_SHARE)))
        runs["intake"].append(run("intake", asked.messages))
        runs["embedded"].append(run("embedded", max(1, asked.messages // EMBEDDED_SHARE)))
    Console().print(_table(runs))
    return 1 if asked.hold and _middle(runs["intake"]) < MUST else 0


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="python -m drainscale_server.bench", description=__doc__.split("\n")[0]
    )
    parser.add_argument("--rounds", type=int, default=3, help="how often all is timed")
    parser.add_argument("--messages", type=int, default=20_000, help="in one round")
    parser.add_argument("--hold", action="store_true", help="exit with 1 if the must is missed")
    return parser


def _middle(runs: list[Run]) -> float:
    return median(one.messages_per_s for one in runs)


def _table(runs: dict[str, list[Run]]) -> Table:
    table = Table(box=None, padding=(0, 2, 0, 0))
    for heading in ("ingest, ten samples a message", "measured", "", "must", "aim"):
        table.add_column(heading, justify="right" if heading == "measured" else "left")
    intake, plain = _middle(runs["intake"]), _middle(runs["plain"])
    ratio = median(
        ours.messages_per_s / theirs.messages_per_s
        for ours, theirs in zip(runs["intake"], runs["plain"], strict=True)
    )
    must, aim = _mark(intake, MUST), _mark(intake, AIM)
    table.add_row("behind Mosquitto: messages", f"{intake:,.0f}", "/s", must, aim)
    samples = SAMPLES_N * intake
    must, aim = _mark(samples, SAMPLES_N * MUST), _mark(samples, SAMPLES_N * AIM)
    table.add_row("... samples", f"{samples:,.0f}", "/s", must, aim)
    cpu_us = median(one.cpu_us for one in runs["intake"])
    table.add_row("... processor a message", f"{cpu_us:.0f}", "µs")
    table.add_row("plain: a commit a message", f"{plain:,.0f}", "/s")
    table.add_row("... ours by", f"{ratio:.1f}", "times")
    table.add_row("broker in the same process: messages", f"{_middle(runs['embedded']):,.0f}", "/s")
    return table


def _mark(value: float, limit: float) -> str:
    return f"≥ {limit:,.0f} {'ok' if value >= limit else 'SHORT'}"
