"""The outages of the broker as a table and as claims."""

from collections.abc import Mapping

from rich.table import Table

from drainscale_sim.soak.outage import LASTS_S, Outage
from drainscale_sim.soak.summary import Claim, new_table, word


def outages_table(job: str, found: Mapping[str, Outage | str]) -> Table:
    """Draw what each broker's outage did to one job; in place of one that did not run, why."""
    table = new_table(
        f"broker gone and back, without its memory: {job}",
        ("broker", "holds", "job\ndone", "same\nbytes"),
        (
            "gone from\nto s of job", "stored as\nit went", "as it\ncame back", "messages\nsent",
            "lost", "came\nagain", "samples\nstored", "twice", "gaps",
        ),
    )  # fmt: skip
    for name, one in found.items():
        if isinstance(one, str):
            table.add_row(f"{name}: {one}", word(False))
            continue
        table.add_row(
            name,
            word(one.is_good),
            word(one.is_done),
            word(one.is_same),
            f"{one.went_s:.0f} to {one.back_s:.0f}",
            str(one.before_n),
            str(one.while_gone_n),
            str(one.sent_n),
            str(one.missing_n),
            str(one.repeats_n),
            str(one.samples_n),
            str(one.twice_n + one.strange_n),
            str(one.gaps_n),
        )
    return table


def outage_claims(name: str, found: Outage | str) -> list[Claim]:
    """Claim that an outage of this broker costs nothing."""
    gone = f"{name} gone {LASTS_S / 60.0:.0f} min"
    if isinstance(found, str):
        return [Claim(gone, found, "runs", holds=False)]
    extra = [
        f"{found.twice_n} of {found.samples_n} samples",
        f"{found.strange_n} messages",
        *found.failures[:1],
    ]
    return [
        Claim(
            f"{gone}: nothing lost",
            f"{found.sent_n - found.missing_n} of {found.sent_n} messages",
            "all",
            found.is_nothing_lost,
        ),
        Claim(f"{gone}: nothing twice", ", ".join(extra), "0", found.is_nothing_twice),
        Claim(
            f"{gone}: stored answers as live, no gap",
            f"{'the same bytes' if found.is_same else 'another answer'}, {found.gaps_n} gaps"
            + ("" if found.is_done else ", job not done"),
            "the same bytes, 0 gaps",
            found.is_unmoved,
        ),
    ]
