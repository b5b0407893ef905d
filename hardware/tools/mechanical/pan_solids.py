# SPDX-License-Identifier: Apache-2.0
"""What holds the thermocouple's button on the pan: a pad, and a clamp for edges."""

from manifold3d import CrossSection, Manifold

from mechanical.params import Params
from mechanical.solids import THROUGH, block, rod, rounded, union


def pan_pad(params: Params) -> Manifold:
    """The pad: face to the pan on z = 0, two magnets, button in the middle, strap slots.

    The bore steps from the button's width to that of the lead; a spring on the step pushes the
    button out, so that the junction touches although the pad stands on uneven ground. The lead,
    glued into the groove, keeps the spring from pushing it all the way.
    """
    pad = params.pan_pad
    body = rounded((pad.length, pad.width), 6.0).extrude(pad.height)
    magnets = [
        rod(pad.magnet, (sx * pad.magnet_pitch / 2.0, 0.0), (-THROUGH, pad.magnet_depth))
        for sx in (-1.0, 1.0)
    ]
    slots = [
        block((*pad.strap_slot, pad.height + 1.0), (sx * pad.strap_pitch / 2.0, 0.0, -0.5))
        for sx in (-1.0, 1.0)
    ]
    bore = rod(pad.button, (0.0, 0.0), (-THROUGH, pad.button_depth))
    lead = rod(pad.lead, (0.0, 0.0), (0.0, pad.height + THROUGH))
    groove = block((pad.lead, pad.width / 2.0 + 1.0, pad.lead), (0.0, pad.width / 4.0, 0.0))
    groove = groove.translate((0.0, 0.5, pad.height - pad.lead))
    return body - union([*magnets, *slots, bore, lead, groove])


def pan_clamp(params: Params) -> Manifold:
    """The clamp: a C whose thumb screw presses an edge of the pan on the button in its head.

    Made as a profile in x and z that is as wide as the clamp in y; z = 0 is the head's face.
    """
    clamp = params.pan_clamp
    body = CrossSection([_profile(params)]).extrude(clamp.width)
    body = body.rotate((90.0, 0.0, 0.0)).translate((0.0, clamp.width / 2.0, 0.0))
    axis = (clamp.throat * 0.6, 0.0)
    low = -(clamp.jaw + clamp.wall)
    screw = rod(clamp.screw_tap, axis, (low - THROUGH, -clamp.jaw + THROUGH))
    bore = rod(clamp.button, axis, (-THROUGH, clamp.button_depth))
    lead = rod(clamp.lead, axis, (0.0, clamp.head + THROUGH))
    long = axis[0] + clamp.wall + THROUGH
    middle = (axis[0] - long / 2.0, 0.0, clamp.head - clamp.lead)
    groove = block((long, clamp.lead, clamp.lead + THROUGH), middle)
    return body - union([screw, bore, lead, groove])


def _profile(params: Params) -> list[tuple[float, float]]:
    """Outline of the clamp in x and z, counter-clockwise from its lower back."""
    clamp = params.pan_clamp
    wall, jaw, throat = clamp.wall, clamp.jaw, clamp.throat
    return [
        (-wall, -jaw - wall),
        (throat, -jaw - wall),
        (throat, -jaw),
        (0.0, -jaw),
        (0.0, 0.0),
        (throat, 0.0),
        (throat, clamp.head),
        (-wall, clamp.head),
    ]


def button(params: Params) -> Manifold:
    """The button with the junction, for figures; it stands out of the face at z = 0."""
    one = params.pan_button
    return rod(one.diameter, (0.0, 0.0), (-one.proud, one.length - one.proud))
