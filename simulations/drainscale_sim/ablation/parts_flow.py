"""Parts of the drain's tail, the spill's model and the level check."""

from math import exp
from typing import Any

from drainscale.core import level_check, receiving, spilling
from drainscale.core.spilling import Spilling
from drainscale.estimation import drain, rim, spill
from drainscale.estimation.rim import SHARPNESS, STANDPIPE, Rim
from drainscale.estimation.spill import Guess, Inflow, SpillModel
from drainscale_sim.ablation.part import Part, choice, part
from drainscale_sim.ablation.stand_ins import SlopeSpill, constant, plain_tail

_init = SpillModel.__init__
_rim_guess = vars(spill)["_rim_guess"]


def _likeliest_only(self: SpillModel, *args: Any) -> None:
    _init(self, *args)
    best = max(self.guesses, key=lambda guess: guess.weight)
    best.weight = 1.0
    self.guesses = [best]


def _unlikely_rim(*args: Any) -> Guess:
    guess: Guess = _rim_guess(*args)
    guess.weight = 1e-12
    return guess


PIPE_FIXED_POWER = 0.15


def _pipe_without_head(
    rim: Rim, ln_v: float, ln_c: float, ln_p: float
) -> tuple[float, float, float, float]:
    """A pipe whose flow falls as a small power of what stands above the rim, whatever the rim."""
    ln_weir = min(ln_c + rim.power * ln_v, 30.0)
    ln_pipe = ln_p + PIPE_FIXED_POWER * ln_v
    gap = SHARPNESS * (ln_weir - ln_pipe)
    other = exp(-min(abs(gap), 60.0))
    q = exp(min(ln_weir, ln_pipe)) * (1.0 + other) ** (-1.0 / SHARPNESS)
    by_pipe = (other if gap < 0.0 else 1.0) / (1.0 + other)
    by_weir = 1.0 - by_pipe
    return q, q * (by_weir * rim.power + by_pipe * PIPE_FIXED_POWER), q * by_weir, q * by_pipe


def _off_without_head(rim: Rim, ln_v: float, ln_c: float, ln_p: float) -> float:
    return _pipe_without_head(rim, ln_v, ln_c, ln_p)[0]


def _power_without_head(rim: Rim, ln_v: float, ln_c: float) -> float:
    del rim, ln_c
    return PIPE_FIXED_POWER * ln_v


class _Slope3(SlopeSpill):
    WINDOW_S = 3.0


class _Slope10(SlopeSpill):
    WINDOW_S = 10.0


def _tail_choice(window_s: float) -> Part:
    return choice(
        f"tail-slope-{window_s:g}", "the tail is a power law", f"slope of the last {window_s:g} s",
        (receiving, "fit_tail", plain_tail(window_s)),
    )  # fmt: skip


def _share_choice(share: float) -> Part:
    return choice(
        f"tail-share-{share:g}", "tail window 0.4 of the time since the start", f"{share:g}",
        (drain, "WINDOW_SHARE", share),
    )  # fmt: skip


TAIL = (
    *(_tail_choice(window_s) for window_s in (5.0, 10.0, 20.0, 40.0)),
    *(_share_choice(share) for share in (0.3, 0.55, 0.7)),
    choice(
        "tail-film", "the power of the tail is inferred", "the film's 3/2 alone",
        (drain, "POWERS", (1.5,)),
    ),
    part(
        "tail-prior", "prior about the power of the tail", "flat from 0.8 to 3.5",
        (drain, "POWER_SD", 10.0),
    ),
    part(
        "drip-twice", "a drip counts when seen twice", "at once",
        (receiving, "DRIPS_IN_A_ROW", 1),
    ),
    part(
        "drip-redated", "the drip's date is refined for a minute", "first date stands",
        (receiving, "REFINE_DRIP_S", 0.0),
    ),
)  # fmt: skip

SPILL = (
    choice(
        "spill-single", "bank of guesses", "one filter, from the likeliest guess",
        (SpillModel, "__init__", _likeliest_only),
    ),
    *(
        choice(
            f"spill-slope-{window_s}", "bank of guesses", f"slope of the last {window_s} s",
            (spilling, "SpillModel", model),
        )
        for window_s, model in ((3, _Slope3), (6, SlopeSpill), (10, _Slope10))
    ),
    part(
        "rim-guesses", "guesses in which the rim alone limits", "only those from the books",
        (spill, "_rim_guess", _unlikely_rim),
    ),
    part(
        "books", "what the books say of the volume above the rim", "any volume alike",
        (spilling, "U_EXCESS_ML", 1e5),
    ),
    part(
        "pipe-head", "the head above the rim drives the pipe", "a constant pipe",
        (rim, "PIPE_POWER", 0.0),
    ),
    choice(
        "pipe-0.15", "the head above the rim drives the pipe", "fixed power 0.15 of the volume",
        (spill, "flow_and_slopes", _pipe_without_head), (spill, "flow_off", _off_without_head),
        (spill, "head_power", _power_without_head), (rim, "head_power", _power_without_head),
    ),
    choice(
        "rim-linear", "weir law of the rim, power 3/2", "power 1 (falls off exponentially)",
        (spilling, "STANDPIPE", Rim(1.0, -2.4)), (spilling, "CHECK_HOLE", Rim(1.0, -2.4)),
    ),
    part(
        "check-hole", "a check hole's own law, power 2", "that of a standpipe's rim, 3/2",
        (spilling, "CHECK_HOLE", STANDPIPE),
    ),
    *(
        choice(
            f"sharpness-{s:g}", "rim and pipe: nearly the lesser of the two, s = 4", f"s = {s:g}",
            (rim, "SHARPNESS", s),
        )
        for s in (2.0, 3.0, 8.0)
    ),
    part(
        "ripple", "the stream's ripple is learnt", "noise of the scale alone",
        (spill, "RIPPLE_MEMORY", 0.0), (spill, "RIPPLE_START_G", 0.0),
    ),
    choice(
        "ripple-1", "ripple counted over 2 readings", "1", (spill, "RIPPLE_BINS", 1.0)
    ),
    choice(
        "ripple-4", "ripple counted over 2 readings", "4", (spill, "RIPPLE_BINS", 4.0)
    ),
    part(
        "expansion", "what warms in the sump adds to the spill", "no inflow",
        (Spilling, "_inflow", constant(Inflow(0.0, 1e-6))),
    ),
    part(
        "walks", "rim and pipe may change slowly", "they are constants",
        (spill, "WALK_LN_C", 0.0), (spill, "WALK_LN_P", 0.0), (spill, "WALK_LN_V", 0.0),
    ),
    part(
        "shut-seen", "a flow that ends at once: the plug was shut", "not looked for",
        (Spilling, "_has_ended", constant(False)),
    ),
)  # fmt: skip

CHECK = (
    part(
        "first-passage", "the flow has to be below the limit by 0.6 u", "by best estimate",
        (level_check, "FIRST_PASSAGE", 0.0),
    ),
    choice(
        "first-passage-2", "the flow has to be below the limit by 0.6 u", "by twice its u",
        (level_check, "FIRST_PASSAGE", 2.0),
    ),
    part(
        "guard-band", "in the window with 95 %", "by best estimate (50 %)",
        (level_check, "SURE", 0.5),
    ),
    choice(
        "overrun-half", "overrun told below 15 % for finishing", "below 50 %",
        (level_check, "OVERRUN_P", 0.5),
    ),
    part(
        "overrun-closing", "an overrun is told below 50 % once the window is closing",
        "below 15 %, as before", (level_check, "OVERRUN_CLOSING_P", level_check.OVERRUN_P),
    ),
    part(
        "overrun-thrice", "overrun told when foreseen three times", "at once",
        (level_check, "OVERRUN_IN_A_ROW", 1),
    ),
)  # fmt: skip

PARTS: tuple[Part, ...] = TAIL + SPILL + CHECK
