"""The rules that give the cue: the first one that holds wins.

In order of what is lost by being late:

1. oil on the floor (``stop``);
2. an open level plug that has to be shut: the fluid that runs out meanwhile is gone. This goes
   before a sensor's fault, for the plug does not wait and the fault stays on show;
3. a wait that was asked for (pause, cooling): no cue but the above, for nobody is at the bench. A
   sensor that fails meanwhile shows as a value withheld, and cues as soon as the wait is over;
4. a sensor's fault: what comes after it rests on values;
5. what only a short window allows: open the plug, add fluid while it is open;
6. what is about to come, or is not as usual (``get-ready``);
7. what the step itself is waiting for.
"""

from collections.abc import Callable
from dataclasses import dataclass

from drainscale.procedure.cue_facts import CueName, Facts, PlugState, Window
from drainscale.procedure.steps import Mode, Step

_ENGINE_ON = (Step.CIRCULATE, Step.WARM, Step.LEVEL)


@dataclass(frozen=True, slots=True)
class Rule:
    """One reason for one cue."""

    reason: str
    cue: CueName
    when: Callable[[Facts], bool]
    text: str


def _is_shut_due(facts: Facts) -> bool:
    return facts.is_close_due and facts.step is Step.LEVEL and _may_be_open(facts)


def _is_engine_off_at_level(facts: Facts) -> bool:
    is_open = facts.step is Step.LEVEL and facts.plug_state is PlugState.OPEN
    return is_open and facts.is_engine_running is False


def _is_window_passing(facts: Facts) -> bool:
    if facts.plug_state is PlugState.OPEN and facts.window is Window.ABOVE:
        return True
    return facts.is_window_closing and _may_be_open(facts)


def _is_open_due(facts: Facts) -> bool:
    if not facts.is_open_due or facts.plug_state is PlugState.OPEN or facts.is_going_in:
        return False
    if facts.window is Window.ABOVE:  # nobody came in time
        return False
    return facts.step in (Step.CIRCULATE, Step.WARM) or _is_topped_up(facts)


def _is_topped_up(facts: Facts) -> bool:
    is_running = facts.is_engine_running is not False
    return facts.step is Step.REFILL and facts.is_refill_reached and is_running


def _is_fluid_missing(facts: Facts) -> bool:
    if not facts.is_no_spill or facts.is_going_in or facts.window is Window.ABOVE:
        return False
    return facts.step in (Step.LEVEL, Step.REFILL)


def _is_less_than_drained(facts: Facts) -> bool:
    if facts.is_check_hole_fill or facts.drained_L is None or facts.added_L is None:
        return False
    return facts.step in (Step.CIRCULATE, Step.WARM) and facts.added_L < facts.drained_L


def _is_window_missed(facts: Facts) -> bool:
    return facts.window is Window.ABOVE and (
        facts.step in _ENGINE_ON or (facts.step is Step.REFILL and facts.is_engine_running is True)
    )


def _is_too_early(facts: Facts) -> bool:
    return facts.step is Step.LEVEL and facts.window in (Window.BELOW, Window.NEAR)


def _is_below_target(facts: Facts) -> bool:
    return facts.step is Step.REFILL and not facts.is_refill_reached and not facts.is_going_in


def _may_be_open(facts: Facts) -> bool:
    return facts.plug_state is not PlugState.SHUT


def _at(*steps: Step) -> Callable[[Facts], bool]:
    return lambda facts: facts.step in steps


RULES: tuple[Rule, ...] = (
    Rule(
        "container-overflows",
        CueName.STOP,
        lambda f: f.is_container_full and f.is_flowing,
        "The drain container is nearly full and it still runs: shut the plug or change over.",
    ),
    Rule("done", CueName.GO_ON, _at(Step.DONE), "The service is complete."),
    Rule("aborted", CueName.WAIT, lambda f: f.mode is Mode.ABORTED, "The service was given up."),
    Rule(
        "cooling-but-open",
        CueName.SHUT,
        lambda f: f.mode is Mode.COOLING and f.plug_state is PlugState.OPEN,
        "Shut the level plug before the fluid cools.",
    ),
    Rule("thin", CueName.SHUT, _is_shut_due, "The spill is a thin stream: shut the plug."),
    Rule(
        "engine-off",
        CueName.SHUT,
        _is_engine_off_at_level,
        "The engine stopped with the plug open: more runs out than stood too high. Shut it.",
    ),
    Rule(
        "window-closing",
        CueName.SHUT,
        _is_window_passing,
        "The fluid leaves the window: shut the plug, cool down, start again.",
    ),
    Rule("paused", CueName.WAIT, lambda f: f.mode is Mode.PAUSED, "Stopped; the step is kept."),
    Rule(
        "cooling",
        CueName.WAIT,
        lambda f: f.mode is Mode.COOLING,
        "Cooling down, plug shut, engine off. The time to start again is shown.",
    ),
    Rule("sensor-fault", CueName.FAULT, lambda f: f.has_sensor_fault, "A sensor gives no value."),
    Rule(
        "no-spill",
        CueName.ADD,
        _is_fluid_missing,
        "Nothing runs in the window: add fluid, engine running, until it does.",
    ),
    Rule("in-window", CueName.OPEN, _is_open_due, "The fluid is in the window: open the plug."),
    Rule(
        "window-missed",
        CueName.GET_READY,
        _is_window_missed,
        "The fluid is above the window: plug shut, engine off, let it cool, start again.",
    ),
    Rule(
        "start-again",
        CueName.GO_ON,
        lambda f: f.awaits_restart,
        "Cold enough: start the engine again.",
    ),
    Rule(
        "less-than-drained",
        CueName.ADD,
        _is_less_than_drained,
        "The engine runs, and less is back in than came out: add fluid.",
    ),
    Rule(
        "will-overrun",
        CueName.GET_READY,
        lambda f: f.will_overrun and f.step is Step.LEVEL,
        "It will not be thin before the window closes: be ready to shut, then cool down.",
    ),
    Rule(
        "thin-soon",
        CueName.GET_READY,
        lambda f: f.is_thin_soon and f.step is Step.LEVEL,
        "It will soon be a thin stream: be ready to shut.",
    ),
    Rule(
        "empty-container",
        CueName.GET_READY,
        lambda f: f.is_container_full and f.step.place < Step.SEAL.place,
        "The drain container is nearly full: empty it before more runs out.",
    ),
    Rule(
        "start-over",
        CueName.GET_READY,
        lambda f: f.is_attempt_failed and f.step is Step.SEAL,
        "The level is not set yet: top up, or cool down and start again.",
    ),
    Rule(
        "window-near",
        CueName.GET_READY,
        lambda f: f.window in (Window.NEAR, Window.IN) and f.step in (Step.CIRCULATE, Step.WARM),
        "The window is near: be at the plug.",
    ),
    Rule(
        "ready-to-drain",
        CueName.GO_ON,
        _at(Step.PREPARE),
        "Put the container under and open the drain.",
    ),
    Rule(
        "dripped",
        CueName.GO_ON,
        lambda f: f.has_dripped and f.step in (Step.DRAIN, Step.DRAIN_PAN),
        "It only drips: what is still to come is shown. Go on.",
    ),
    Rule("draining", CueName.WAIT, _at(Step.DRAIN, Step.DRAIN_PAN), "It drains."),
    Rule("refit", CueName.GO_ON, _at(Step.REFIT), "Close the outlet to its torque, then fill."),
    Rule("below-target", CueName.ADD, _is_below_target, "Less than the target is in: add fluid."),
    Rule(
        "refill-reached",
        CueName.GO_ON,
        lambda f: f.step is Step.REFILL and f.is_refill_reached,
        "The target is in. Next: the engine, if it does not run yet.",
    ),
    Rule("filling", CueName.WAIT, _at(Step.REFILL), "Fluid goes in; the figure counts up."),
    Rule(
        "shift",
        CueName.GO_ON,
        _at(Step.CIRCULATE),
        "Shift through the gears as the service information says, then let it idle.",
    ),
    Rule("warming", CueName.WAIT, _at(Step.WARM), "The fluid warms towards the window."),
    Rule(
        "too-early",
        CueName.WAIT,
        _is_too_early,
        "Opened below the window: it is judged once the fluid is in it.",
    ),
    Rule("spilling", CueName.WAIT, _at(Step.LEVEL), "It runs; the end is being watched for."),
    Rule(
        "seal",
        CueName.GO_ON,
        _at(Step.SEAL),
        "Plug shut and torqued: engine off, then the list for the end of the job.",
    ),
)

HELD_AS: dict[CueName, CueName] = {
    # the target is in, say, and something is to be confirmed: that is not "nothing to do"
    CueName.GO_ON: CueName.GET_READY,
    CueName.ADD: CueName.GET_READY,
    # the window does not wait: be at the plug and answer there
    CueName.OPEN: CueName.GET_READY,
}
"""What is shown instead of a cue that a gate holds back; no other cue can be held back."""

REASONS: dict[str, str] = {rule.reason: rule.text for rule in RULES}
"""The sentence of each reason. For a cue that is held back, the gate's own sentence goes."""
