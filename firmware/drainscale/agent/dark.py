"""Put lamps and sounder out, where a bench was killed and could not do so itself.

    drainscale dark

What becomes of an output pin whose process has died is not promised: the kernel may let it fall
back to an input, or leave it as it stood. A lamp that stands still in the middle of its flashing
looks like another cue: a white one like "go on". So the unit file calls this each time the bench
ends, however it ends (`ExecStopPost`).

Source: Linux, GPIO character device, closing a line request: "may revert to its default state".
"""

import argparse
from collections.abc import Sequence

from drainscale.drivers.gpio import GpioChip, GpioIndicator
from drainscale.errors import DrainscaleError, SensorRefusedError
from drainscale.pins import pins


def main(argv: Sequence[str]) -> int:
    """Run ``drainscale dark``; return the exit status.

    Raises:
        SensorError: The pins cannot be used here, or a bench that runs holds them.
    """
    argparse.ArgumentParser(prog="drainscale dark", description=__doc__).parse_args(argv)
    chip = GpioChip()
    try:
        GpioIndicator(pins(), chip).close()
    except DrainscaleError:
        raise
    except Exception as error:  # the pins' library has errors of its own
        raise SensorRefusedError(f"lamps: {error}; does a bench run here?") from error
    finally:
        chip.close()
    return 0
