"""The kills of the agent as a table and as claims."""

from collections.abc import Mapping

from rich.table import Table

from drainscale_sim.soak.kills import Missed, Survived, Tried, as_bytes, figures, gaps_untold
from drainscale_sim.soak.summary import Claim, new_table, word

BACK, ON = "killed, world set back", "killed, world runs on"


def tried(
    name: str, kills_n: int, whole: Survived | str, back: Survived | str, on: Survived | str
) -> Tried | str:
    """Put the runs of a job together; a line of why where one of them came to nothing."""
    if isinstance(whole, str) or isinstance(back, str) or isinstance(on, str):
        return next(one for one in (whole, back, on) if isinstance(one, str))
    return Tried(name, kills_n, whole, back, on)


def kills_table(found: Mapping[str, Tried | str]) -> Table:
    """Draw what the kills of each job did; in place of one that came to nothing, why."""
    table = new_table(
        "kill -9 of the agent",
        ("job", "world", "verdict", "done", "same\nbytes"),
        ("kills", "drained\noff mL", "added\noff mL", "spilled\noff mL", "gaps\ntold"),
    )
    for name, one in found.items():
        if isinstance(one, str):
            table.add_row(f"{name}: {one}", "", "", word(False))
            continue
        table.add_row(name, "no kill", *_row(one.unkilled, ""))
        table.add_row(name, "set back", *_row(one.back, word(one.is_same)))
        table.add_row(name, "runs on", *_row(one.on, ""), _told(one.on))
    return table


def _row(run: Survived, same: str) -> tuple[str, ...]:
    verdict = str(run.answer["level"]["verdict"])
    return verdict, word(run.is_done), same, str(len(run.kills)), *map(str, figures(run))


def _told(run: Survived) -> str:
    untold_n = len(gaps_untold(run))
    return f"{len(run.kills) - untold_n} of {len(run.kills)}" + " NO" * (untold_n > 0)


def kills_claims(name: str, found: Tried | str) -> list[Claim]:
    """Claim what a job that is killed again and again has to stand."""
    if isinstance(found, str):
        return [Claim(f"{name} killed", found, "runs", holds=False)]
    n, back, on = found.kills_n, found.back, found.on
    missed = figures(on)
    return [
        Claim(
            f"{name} {BACK}: the same bytes",
            f"{'the same' if found.is_same else _apart(found)} after {len(back.kills)} kills",
            f"the same after {n}",
            found.is_same and len(back.kills) == n,
        ),
        Claim(
            f"{name} {ON}: truth within U",
            _shares(missed),
            "1 U, not all withheld",
            all(one.is_within for one in missed) and any(one.off_mL is not None for one in missed),
        ),
        Claim(
            f"{name} {ON}: gaps told",
            _told(on),
            f"{n} of {n}",
            not gaps_untold(on) and len(on.kills) == n,
        ),
        Claim(
            f"{name} {ON}: job done",
            f"{word(on.is_done)}, {on.answer['level']['verdict']}",
            "yes",
            on.is_done,
        ),
    ]


def _apart(found: Tried) -> str:
    lengths = [len(as_bytes(run.answer)) for run in (found.back, found.unkilled)]
    return f"another ({lengths[0]} bytes beside {lengths[1]})"


def _shares(missed: list[Missed]) -> str:
    shares = [
        abs(one.off_mL) / one.U_mL if one.U_mL else float("inf")
        for one in missed
        if one.off_mL is not None
    ]
    withheld_n = len(missed) - len(shares)
    return f"{max(shares, default=0.0):.2f} U at most, {withheld_n} withheld"
