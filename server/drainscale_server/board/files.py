"""The board's files: pages, style and script, read once at the start and served from memory."""

import hashlib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from importlib.resources import files
from importlib.resources.abc import Traversable

_KINDS: Mapping[str, str] = {
    "html": "text/html; charset=utf-8",
    "css": "text/css; charset=utf-8",
    "js": "text/javascript; charset=utf-8",
    "svg": "image/svg+xml",
}


@dataclass(frozen=True, slots=True)
class BoardFile:
    """One file as it is sent.

    Attributes:
        content: Its bytes.
        media_type: For the header `Content-Type`.
        etag: Changes with the content, so that a display takes a new version by itself.
    """

    content: bytes
    media_type: str
    etag: str


def board_file(content: bytes, media_type: str) -> BoardFile:
    """Make a file of its content."""
    return BoardFile(content, media_type, f'"{hashlib.sha256(content).hexdigest()[:16]}"')


def pages() -> Mapping[str, BoardFile]:
    """Read the pages, by name without `.html`."""
    return {name.removesuffix(".html"): file for name, file in _read("pages").items()}


def assets() -> Mapping[str, BoardFile]:
    """Read style and script, by their path below `static`."""
    return _read("static")


def _read(folder: str) -> dict[str, BoardFile]:
    root = files("drainscale_server.board").joinpath(folder)
    return {
        path: board_file(found.read_bytes(), _KINDS[path.rpartition(".")[2]])
        for path, found in _walk(root, "")
    }


def _walk(folder: Traversable, prefix: str) -> Iterator[tuple[str, Traversable]]:
    for found in folder.iterdir():
        path = f"{prefix}{found.name}"
        if found.is_dir():
            yield from _walk(found, f"{path}/")
        elif path.rpartition(".")[2] in _KINDS:
            yield path, found
