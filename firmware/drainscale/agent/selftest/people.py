"""The parts of the self-test that a person sees, hears or presses: lamps, sounder, foot switch."""

from collections.abc import Callable

from drainscale.agent.selftest.findings import Finding, Findings, Part, Person
from drainscale.errors import DrainscaleError
from drainscale.ports import LAMPS, Clock, FootEvent, FootSwitch, Indicator
from drainscale.signals.vocabulary import vocabulary

SHOWN_S = 0.7
BEEP_S = 0.4
AT_REST_S = 2.0  # contacts that contradict each other count as a fault after 1 s
PATIENCE_S = 20.0
LOOK_S = 0.05

_LAMP_MEND = "look at its plug, its resistor and the pin in the wiring table"


def check_lamps(open_it: Callable[[], Indicator], clock: Clock, person: Person) -> Findings:
    """Light the lamps one after the other, sound each pitch; dark and silent afterwards."""
    part = Part("lamps")
    try:
        indicator = open_it()
    except DrainscaleError as error:
        yield part.fail("opens", str(error))
        return
    try:
        for place, lamp in enumerate(LAMPS, start=1):
            yield _lamp(part, indicator, clock, person, lamp, place)
        indicator.show(frozenset())
        yield _sounder(indicator, clock, person)
    except DrainscaleError as error:
        yield part.fail("shows", str(error))
    finally:
        indicator.close()


def _lamp(
    part: Part, indicator: Indicator, clock: Clock, person: Person, lamp: str, place: int
) -> Finding:
    indicator.show(frozenset([lamp]))
    if not person.is_there:
        clock.sleep(SHOWN_S)
        return part.not_asked(lamp, "lit; nobody was asked whether it could be seen")
    is_seen = person.confirms(f"Is the {lamp} lamp lit, number {place} from the top, and no other?")
    return part.judge(lamp, is_seen, "seen" if is_seen else "not seen as it should be", _LAMP_MEND)


def _sounder(indicator: Indicator, clock: Clock, person: Person) -> Finding:
    part = Part("sounder")
    person.is_told("Listen: there come beeps of rising pitch.")
    for pitch_Hz in sorted({sound.pitch_Hz for sound in vocabulary().sounds.values()}):
        indicator.sound(pitch_Hz)
        clock.sleep(BEEP_S)
        indicator.sound(None)
        clock.sleep(BEEP_S / 2.0)
    if not person.is_there:
        return part.not_asked("beeps", "sounded; nobody was asked whether they could be heard")
    is_heard = person.confirms("Did you hear them clearly, with the shop as loud as usual?")
    return part.judge(
        "beeps", is_heard, "heard" if is_heard else "not heard", "look at its plug and its diode"
    )


def check_foot_switch(open_it: Callable[[], FootSwitch], clock: Clock, person: Person) -> Findings:
    """Look at the foot switch at rest, then ask for a press."""
    part = Part("foot switch")
    try:
        switch = open_it()
    except DrainscaleError as error:
        yield part.fail("opens", str(error))
        return
    try:
        at_rest = _watch(switch, clock, AT_REST_S, lambda _event: False)
        is_faulty = any(event.change == "fault" for event in at_rest)
        yield part.judge(
            "at rest",
            not is_faulty,
            "its contacts contradict each other or say pressed" if is_faulty else "not pressed",
            "take what stands on it away; look at its plug and cable",
        )
        if is_faulty:
            return
        if not person.is_there:
            yield part.not_asked("press", "needs somebody who presses it")
            return
        person.is_told(f"Press the foot switch once, shortly, within {PATIENCE_S:g} s.")
        yield _press(part, _watch(switch, clock, PATIENCE_S, lambda event: event.is_press))
    finally:
        switch.close()


def _press(part: Part, events: list[FootEvent]) -> Finding:
    presses = [event.held_s for event in events if event.is_press]
    released = [event.held_s for event in events if event.held_s is not None]
    if presses:
        said = f"pressed for {presses[0]:.2f} s"
    elif released:
        said = f"held for {released[0]:.2f} s, which does not count as a press"
    else:
        said = f"no press in {PATIENCE_S:g} s"
    return part.judge("press", bool(presses), said, "press it for less than 2 s; look at its plug")


def _watch(
    switch: FootSwitch, clock: Clock, duration_s: float, is_enough: Callable[[FootEvent], bool]
) -> list[FootEvent]:
    seen: list[FootEvent] = []
    end_s = clock.now_s() + duration_s
    while clock.now_s() < end_s and not any(map(is_enough, seen)):
        clock.sleep(LOOK_S)
        seen += switch.events()
    return seen
