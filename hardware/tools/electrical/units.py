# SPDX-License-Identifier: Apache-2.0
"""Values as they stand on a drawing."""

PREFIXES = ((1e6, "M"), (1e3, "k"), (1.0, ""), (1e-3, "m"), (1e-6, "µ"), (1e-9, "n"), (1e-12, "p"))


def engineering(value: float, unit: str) -> str:
    """Write a value with its prefix: 2200 Ω is 2.2 kΩ, 1e-7 F is 100 nF.

    Raises:
        ValueError: The value is not positive.
    """
    if value <= 0.0:
        raise ValueError(f"{value} {unit} is no value of a part")
    factor, prefix = next(
        (pair for pair in PREFIXES if value >= pair[0] * (1.0 - 1e-9)), PREFIXES[-1]
    )
    return f"{value / factor:.4g} {prefix}{unit}"
