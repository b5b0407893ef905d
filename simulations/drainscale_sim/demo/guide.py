"""What each step asks of the technician, and its cautions: in full, or short for a small screen."""

from functools import cache
from importlib.resources import files

import msgspec

from drainscale.procedure.cautions import Caution, cautions_at
from drainscale.procedure.steps import Step
from drainscale_sim.demo.snapshot import Snapshot

IN_THE_FOOTER = "defer"  # holds in every step
GRAVE = frozenset({"nobody-under", "burn"})


class Guide(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """Words of the demo."""

    footer: str
    now: dict[str, str]  # by step
    short: dict[str, str]  # by caution


@cache
def guide() -> Guide:
    """Return the words of the demo."""
    text = files("drainscale_sim.demo").joinpath("guide.toml").read_text(encoding="utf-8")
    return msgspec.toml.decode(text, type=Guide)


def cautions_now(now: Snapshot) -> list[Caution]:
    """Return the kit's cautions for the present step and fluid; hot if it is not known."""
    upper_C = None if now.fluid_C is None else now.fluid_C + (now.U_fluid_K or 0.0)
    found = cautions_at(Step(now.step), upper_C)
    return [caution for caution in found if caution.id != IN_THE_FOOTER]
