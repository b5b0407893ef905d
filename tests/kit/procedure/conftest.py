"""The three kinds of unit that the procedure knows."""

import pytest

from drainscale.quantities.job import ProcedureLimits


@pytest.fixture
def standpipe() -> ProcedureLimits:
    """Level by a standpipe, filled through a fill plug; window 35 to 45 °C."""
    return ProcedureLimits("standpipe", (35.0, 45.0), 0.6, 60.0, 3.0)


@pytest.fixture
def check_plug() -> ProcedureLimits:
    """Level by a check plug, filled through a fill plug."""
    return ProcedureLimits("check-plug", (35.0, 45.0), 0.6, 60.0, 3.0)


@pytest.fixture
def check_hole() -> ProcedureLimits:
    """Level by a check plug, filled through its hole."""
    return ProcedureLimits("check-plug", (35.0, 45.0), 0.6, 60.0, 3.0, fill_via="check-plug")
