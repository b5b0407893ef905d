"""Moments of the recorded service that tests go to, and changes that a test makes to one."""

from typing import Any

from tests.server.board.recorded import state_at

# job's clock, s
BEFORE, DRAINING, REFILLING, ENGINE, WARMING, OPEN, RUNNING, THIN_SOON, SHUT, SEALING, OVER = (
    5.0, 120.0, 850.0, 930.0, 1500.0, 1876.0, 1925.0, 1940.0, 1972.0, 1990.0, 2020.0,
)  # fmt: skip

SCALE_STALE: dict[str, Any] = {"figures": {"scale_is_stale": True, "scale_age_s": 7.2}}
PAN_STALE: dict[str, Any] = {"figures": {"pan_is_stale": True, "pan_age_s": 9.1}}
NO_JOB: dict[str, Any] = {
    "job": None,
    "figures": None,
    "cue": None,
    "procedure": {"step": None, "gates": [], "cautions": []},
    "events": [],
    "trend": {"t": []},
}
NOT_KNOWN = ("pan_C", "fluid_C", "U_fluid_C", "opens_s", "opens_90", "closes_s", "closes_90")
PAN_FAULT: dict[str, Any] = {
    "cue": {"cue": "fault", "reason": "sensor-fault", "text": "A sensor gives no value."},
    "figures": {**dict.fromkeys(NOT_KNOWN), "faults": ["pan"]},
}


def nothing_ticked() -> dict[str, Any]:
    """The list before the drain, with nothing ticked yet."""
    gates = state_at(BEFORE, 0.0)["procedure"]["gates"]
    for gate in gates:
        if gate["group"] == "before-drain":
            gate.update(answer=None, by=None, is_asked=True)
    text = "Open the fill plug first: a unit that cannot be filled must not be drained."
    cue = {"cue": "get-ready", "reason": "fill-plug-opens", "text": text}
    return {"procedure": {"gates": gates}, "cue": cue}


def cue(name: str, text: str = "So.") -> dict[str, Any]:
    """A cue in place of the recorded one."""
    return {"cue": {"cue": name, "reason": "draining", "text": text}}
