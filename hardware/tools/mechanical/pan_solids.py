# SPDX-License-Identifier: Apache-2.0
"""What holds the thermocouple's button on the pan: a pad, and a clamp for edges."""

from manifold3d import CrossSection, Manifold

from mechanical.params import Params
from mechanical.solids import ROUND, THROUGH, block, rod, rounded, union


def pan_pad(params: Params) -> Manifold:
    """The pad: face to the pan on z = 0, two magnets, button in the middle, strap slots.

    The bore steps from the button's width to that of the lead; a spring on the step pushes the
    button out, so that the junction touches although the pad stands on uneven ground.
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
    """The clamp: a C with a thumb screw, and an arm that presses the button on the pan.

    Made as a profile in x and z that is as wide as the clamp in y; z = 0 is the arm's face.
    """
    clamp = params.pan_clamp
    body = CrossSection([_profile(params)]).extrude(clamp.width)
    body = body.rotate((90.0, 0.0, 0.0)).translate((0.0, clamp.width / 2.0, 0.0))
    screw_at = (clamp.throat * 0.6, 0.0)
    low = -(clamp.jaw + clamp.wall)
    screw = rod(clamp.screw_tap, screw_at, (low - THROUGH, -clamp.jaw + THROUGH))
    end = (-clamp.wall - clamp.arm * 0.6, 0.0)
    bore = rod(clamp.button, end, (-THROUGH, clamp.button_depth))
    lead = rod(clamp.lead, end, (0.0, clamp.wall + THROUGH))
    return body - union([screw, bore, lead])


def _profile(params: Params) -> list[tuple[float, float]]:
    """Outline of the clamp in x and z, counter-clockwise from the arm's tip."""
    clamp = params.pan_clamp
    wall, jaw, throat = clamp.wall, clamp.jaw, clamp.throat
    return [
        (-wall - clamp.arm, 0.0),
        (-wall, 0.0),
        (-wall, -jaw - wall),
        (throat, -jaw - wall),
        (throat, -jaw),
        (0.0, -jaw),
        (0.0, 0.0),
        (throat, 0.0),
        (throat, wall),
        (-wall - clamp.arm, wall),
    ]


def button(params: Params) -> Manifold:
    """The button with the junction, for figures: copper, as wide as the bore lets it."""
    pad = params.pan_pad
    return Manifold.cylinder(6.0, pad.button / 2.0 - 0.15, -1.0, ROUND).translate((0.0, 0.0, -1.0))
