"""Numbers and events as people at the bench read them."""

from collections.abc import Mapping

from drainscale.quantities.units import litres_to_quarts

UNKNOWN = "–"
EVENTS: Mapping[str, str] = {  # 25 characters at most: they stand in a narrow column
    "placed": "container on the platform",
    "lifted": "platform empty",
    "flow-started": "flow begins",
    "dripped": "only drops now",
    "refill-reached": "target reached: enough in",
    "window-near": "window is near",
    "open-plug": "fluid in window: open",
    "close-plug": "thin stream: shut",
    "no-spill": "nothing runs: add fluid",
    "will-overrun": "spill will overrun",
    "window-closing": "window closes: shut",
    "container-full": "container is 90 % full",
    "sensor-fault": "gives no value",
    "sensor-restored": "is back",
    "disturbed": "knock or touch, left out",
}
FOOT = "foot-switch"  # the technician's doing, not an event of the kit's
SENSORS: Mapping[str, str] = {"scale": "scale", "supply": "supply", "pan": "pan clamp"}
ACTION_EVENTS = frozenset({"open-plug", "close-plug", "no-spill", "window-closing"})
UNUSUAL_EVENTS = frozenset({"will-overrun", "sensor-fault", "container-full"})


def event_words(event: str, sensor: str | None = None) -> str:
    """Say an event in a few words."""
    words = "foot switch pressed" if event == FOOT else EVENTS.get(event, event)
    return words if sensor is None else f"{SENSORS.get(sensor, sensor)} {words}"


def clock(seconds: float | None) -> str:
    """Write a duration as minutes and seconds; ``None`` as unknown."""
    if seconds is None:
        return UNKNOWN
    sign, whole = ("-", -round(seconds)) if seconds <= -0.5 else ("", round(seconds))
    return f"{sign}{whole // 60}:{whole % 60:02d}"


def litres(volume_L: float | None, expanded_L: float | None = None) -> str:
    """Write a volume with its expanded uncertainty, in litres."""
    if volume_L is None:
        return f"{UNKNOWN} L"
    return f"{volume_L:.3f} L" + ("" if expanded_L is None else f" ± {expanded_L:.3f}")


def quarts(volume_L: float | None) -> str:
    """Write a volume in US quarts."""
    return f"{UNKNOWN if volume_L is None else f'{litres_to_quarts(volume_L):.2f}'} US qt"


def celsius(temperature_C: float | None, expanded_K: float | None = None) -> str:
    """Write a temperature with its expanded uncertainty, in °C."""
    if temperature_C is None:
        return f"{UNKNOWN} °C"
    return f"{temperature_C:.1f} °C" + ("" if expanded_K is None else f" ± {expanded_K:.1f}")


def millilitres(volume_mL: float | None) -> str:
    """Write a small volume."""
    return f"{UNKNOWN if volume_mL is None else f'{volume_mL:.0f}'} mL"


def flow(flow_mL_per_min: float | None) -> str:
    """Write a flow."""
    return f"{UNKNOWN if flow_mL_per_min is None else f'{flow_mL_per_min:.0f}'} mL/min"


def per_cent(share: float | None) -> str:
    """Write a share."""
    return f"{UNKNOWN if share is None else f'{100.0 * share:.0f}'} %"


def bar(share: float, width: int) -> str:
    """Draw a share of a whole as a bar of ``width`` characters."""
    filled = round(min(max(share, 0.0), 1.0) * width)
    return "█" * filled + "░" * (width - filled)
