"""Write the golden record anew, after a change that was meant.

.venv/bin/python -m tests.server.record.golden
"""

import tempfile
from pathlib import Path

from tests.server.record.conftest import ENTRIES, arrivals, sources_of
from tests.server.record.test_building import GOLDEN, golden_form


def main() -> None:
    """Write it."""
    with tempfile.TemporaryDirectory() as folder:
        sources = sources_of(arrivals("standpipe"), Path(folder), ENTRIES)
    GOLDEN.write_bytes(golden_form(sources))


if __name__ == "__main__":
    main()
