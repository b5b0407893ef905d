"""Paths whose files are made at the moment when they are opened, as the kernel does it."""

from collections.abc import Callable
from pathlib import Path
from typing import IO, Any, ClassVar, Self

BeforeOpen = Callable[[Path], None]


class SysfsPath(type(Path())):  # type: ignore[misc]  # the system's own kind of path
    """A path that asks a simulated kernel before a file is opened."""

    before_open: ClassVar[BeforeOpen]

    def open(self, *args: Any, **kwargs: Any) -> IO[Any]:
        """Open; the kernel brings the file up to date first, or raises."""
        type(self).before_open(Path(str(self)))
        opened: IO[Any] = super().open(*args, **kwargs)
        return opened

    def __truediv__(self, key: object) -> Self:
        return type(self)(str(self), str(key))


def sysfs_path(root: Path, before_open: BeforeOpen) -> Path:
    """Return ``root`` as a path all of whose files are asked for by ``before_open`` first."""
    bound = type("BoundSysfsPath", (SysfsPath,), {"before_open": staticmethod(before_open)})
    path: Path = bound(str(root))
    return path
