# SPDX-License-Identifier: Apache-2.0
"""What stands on every drawing: what it shows, its revision, and how far the design is."""

from electrical.circuit import Circuit

LICENCE = "SPDX-License-Identifier: CERN-OHL-P-2.0"
STATUS = "Designed and simulated, not yet built."


def title(circuit: Circuit, what: str) -> str:
    """Return a drawing's title."""
    return f"drainscale, {what}. Revision {circuit.revision}, {circuit.date}. {STATUS}"
