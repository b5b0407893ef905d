"""SQLite files as a power cut may leave them: the file itself sound, its log torn."""

import random
import shutil
from pathlib import Path

TEARS = ("cut", "flipped", "zeroed")


def torn(whole: Path, path: Path, how: str, chance: random.Random) -> Path:
    """Copy a file and its log to ``path``, the log torn in one of the ways at a random place."""
    for tail in ("-wal", "-shm", ""):
        path.with_name(path.name + tail).unlink(missing_ok=True)
    shutil.copy(whole, path)
    log = bytearray(whole.with_name(whole.name + "-wal").read_bytes())
    place = chance.randrange(len(log))
    if how == "cut":
        del log[place:]
    elif how == "flipped":
        log[place] ^= 1 << chance.randrange(8)
    else:
        log[place:] = bytes(len(log) - place)
    path.with_name(path.name + "-wal").write_bytes(log)
    return path
