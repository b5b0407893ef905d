"""Parts between a conversion and the books: validity, rest and shaking, loads, strokes."""

from math import inf
from typing import Any

from drainscale.core import giving, receiving
from drainscale.core.disturbances import Disturbances
from drainscale.core.giving import Giving
from drainscale.core.receiving import Receiving
from drainscale.core.scale_channel import ScaleChannel
from drainscale.estimation import blocks, flow, onset, platform
from drainscale.estimation.blocks import Block, BlockMaker, SpikeGate
from drainscale.estimation.flow import FlowTracker
from drainscale.estimation.platform import Platform
from drainscale_sim.ablation.part import Part, choice, part
from drainscale_sim.ablation.stand_ins import constant

_add = BlockMaker.add


def _add_repetitions(self: BlockMaker, t: float, count: float) -> Block | None:
    self._last_count = None
    return _add(self, t, count)


def _plain_mean(self: BlockMaker) -> Block:
    n = len(self._counts)
    made = Block(sum(self._times) / n, self._to_kg(sum(self._counts) / n), n)
    self._counts, self._times = [], []
    return made


def _any_step_shows(gap: Any) -> bool:
    return bool(abs(gap.step_kg) > 0.0025 or gap.excursion_kg > 0.0025)


VALIDITY = (
    part(
        "saturated", "saturated conversions left out", "taken as readings",
        (blocks, "SATURATED_HIGH", inf), (blocks, "SATURATED_LOW", -inf),
    ),
    part(
        "repeats", "repeated conversions left out", "taken as readings",
        (BlockMaker, "add", _add_repetitions),
    ),
    part(
        "spikes", "gate for lone bit errors", "passed on",
        (SpikeGate, "_is_spike", constant(False)),
    ),
    part(
        "middle-half", "middle half of a fast converter's block", "plain mean",
        (BlockMaker, "_block", _plain_mean),
    ),
)  # fmt: skip

REST = (
    part(
        "gate", "gate that knows the noise (8 sigma)", "only jumps over 100 g are held back",
        (platform, "GATE_KG", 0.1), (platform, "GATE_SIGMAS", 0.0),
    ),
    choice(
        "fixed-gate", "gate that knows the noise (8 sigma)", "5 g, whatever the noise",
        (platform, "GATE_KG", 0.005), (platform, "GATE_SIGMAS", 0.0),
    ),
    part(
        "shaking", "an engine's shaking is noise, not a touch", "waits until all is at rest",
        (platform, "MAX_SHAKING_KG", 0.0),
    ),
    part(
        "shaking-expected", "shaking about the course expected is believed after 2.5 s",
        "only after 15 s", (Platform, "_is_expected", constant(False)),
    ),
    part(
        "calmed", "the end of the shaking is looked for", "it fades out by itself",
        (Platform, "_calmed", constant([])),
    ),
    part(
        "stream-noise", "a strong stream may splash", "no allowance for it",
        (platform, "STREAM_NOISE_S", 0.0),
    ),
    part(
        "excursion-told", "a touch goes out and comes back (excursion rule)",
        "whatever steps by 2.5 g is told", (Disturbances, "_shows", staticmethod(_any_step_shows)),
    ),
    part(
        "segments", "a step that no flow explains starts a new level", "levels run through",
        (flow, "STEP_KG", inf),
    ),
    part(
        "wander", "slow wander of the reading in a slope's u", "white noise only",
        (flow, "WANDER_KG_PER_SQRT_S", 0.0),
    ),
)  # fmt: skip

LOADS = (
    part(
        "foreign", "steps that are no fluid leave the stage's books", "they stay in",
        (receiving, "FOREIGN_KG", inf),
    ),
    part(
        "put-back", "a container put back goes on where it was", "it is tared anew each time",
        (receiving, "SAME_LOAD_KG", -inf),
    ),
    part(
        "swap", "another container is a new weighing", "it is taken for the same",
        (receiving, "SAME_LOAD_KG", inf),
    ),
    part(
        "beside", "what fell beside while nothing stood there is bridged", "it is left out",
        (Receiving, "_ran_meanwhile", constant(0.0)),
    ),
    part(
        "tare-in-flow", "tare of a container put under a stream, dated back", "first quiet reading",
        (Receiving, "_tare_in_flow", constant(None)),
    ),
    part(
        "settled", "mean of the last 5 s ends a weighing", "the last line's end",
        (FlowTracker, "settled_kg", constant(None)),
    ),
    part(
        "onset-window", "a flow is looked for over 2 to 30 s", "over 10 s only",
        (onset, "WINDOWS_S", (10.0,)),
    ),
    part(
        "onset-rising", "a flow has to go on rising", "any rise will do",
        (onset, "STILL_RISING", -inf),
    ),
)  # fmt: skip


def _no_hole(self: ScaleChannel, t: float, count: float) -> Any:
    found = _channel_add(self, t, count)
    self.hole = None
    return found


_channel_add = ScaleChannel.add

JUGS = (
    part(
        "jug-settles", "a jug rests 1.5 s before its tare", "first quiet reading",
        (giving, "RESTS_AFTER_S", 0.0),
    ),
    part(
        "jug-tare", "the jug's tare goes along until fluid leaves", "first reading stands",
        (giving, "CREEP_KG", -1.0),
    ),
    part(
        "press", "a hand presses before it lifts (excursion rule)", "any slow step is a stroke",
        (giving, "PRESS_KG", inf),
    ),
    part(
        "no-fluid", "a pump set in or taken out is no fluid", "every step counts",
        (Giving, "_is_no_fluid", staticmethod(constant(False))),
    ),
    part(
        "jug-hole", "pumping while the scale is silent voids the refill", "not noticed",
        (ScaleChannel, "add", _no_hole),
    ),
)  # fmt: skip

PARTS: tuple[Part, ...] = VALIDITY + REST + LOADS + JUGS
