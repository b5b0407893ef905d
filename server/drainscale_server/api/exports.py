"""Routes of a job's recording and job file, as a replay takes them."""

import logging
import zlib
from collections.abc import Iterator
from dataclasses import replace

from fastapi import APIRouter
from fastapi.responses import Response, StreamingResponse

from drainscale.messages.packs import decode_pack
from drainscale.messages.records import Samples
from drainscale.messages.topics import BenchId
from drainscale.recording.encode import base_line, recordable_time, sample_line
from drainscale.recording.job_file import job_text
from drainscale_server.api.documents import says
from drainscale_server.api.jobs import JobId, found, with_samples
from drainscale_server.api.problems import ProblemError
from drainscale_server.api.shop import Shop
from drainscale_server.store.rows import JobRow
from drainscale_server.store.store import Store

SENSML = "application/sensml+json"
TOML = "application/toml"
GZIP = "application/gzip"
_GZIP_BITS = 31  # zlib: a window of 15 bits with a gzip header (RFC 1952)

log = logging.getLogger(__name__)


def export_routes(shop: Shop) -> APIRouter:
    """Make the routes."""
    router = APIRouter(tags=["export"])
    where = "/jobs/{job}"

    records = {"type": "array", "items": {"type": "object"}}  # SenML records, RFC 8428
    binary = {"type": "string", "format": "binary"}

    @router.get(
        f"{where}/recording.sensml",
        response_class=StreamingResponse,
        responses=says(SENSML, "The recording", records),
    )
    def get_recording(job: JobId) -> Response:
        """Give a job's recording: what its sensors and its technician said."""
        row = _begun(shop, job)
        return StreamingResponse(
            recording_of(shop.store, row), media_type=SENSML, headers=_named(row, "sensml")
        )

    @router.get(
        f"{where}/recording.sensml.gz",
        response_class=StreamingResponse,
        responses=says(GZIP, "The recording, packed", binary),
    )
    def get_packed_recording(job: JobId) -> Response:
        """Give a job's recording, packed."""
        row = _begun(shop, job)
        packed = _packed(recording_of(shop.store, row))
        return StreamingResponse(packed, media_type=GZIP, headers=_named(row, "sensml.gz"))

    @router.get(f"{where}/job.toml", response_class=Response, responses=says(TOML, "The job file"))
    def get_job_file(job: JobId) -> Response:
        """Give what the core was told: the order joined with its bench's scales and sensors."""
        row = found(shop, job)
        if row.spec is None:
            raise ProblemError(409, f"job {job} has not begun: nobody knows its bench's part yet")
        return Response(job_text(row.spec), media_type=TOML, headers=_named(row, "job.toml"))

    return router


def _begun(shop: Shop, job: str) -> JobRow:
    row = found(shop, job)
    if row.base_time_s is None:
        raise ProblemError(409, f"job {job} has no samples: it has not begun")
    return with_samples(shop, row)


def _named(row: JobRow, ending: str) -> dict[str, str]:
    # an id is of letters, digits and a few signs; what else it might hold stays out of the header
    name = "".join(sign if sign.isalnum() and sign.isascii() else "-" for sign in row.job)
    return {"content-disposition": f'attachment; filename="{name}.{ending}"'}


def recording_of(store: Store, row: JobRow) -> Iterator[bytes]:
    """Write a job's recording, pack by pack.

    A time that goes back cannot stand in a recording, nor could the core have been fed it: such
    samples are left out and logged. One that is told finer than a recording holds is rounded.

    Raises:
        StoreError: A pack went bad on the disk.
    """
    bench = BenchId(row.site, row.bench)
    yield b"[" + base_line(bench.base_name, row.base_time_s or 0.0)
    last_t, left_out = 0.0, 0
    for payload in store.packs(row.job):
        body = decode_pack(payload, row.site, row.bench).body
        assert isinstance(body, Samples)
        lines: list[bytes] = []
        for sample in body.samples:
            t = recordable_time(sample.t)
            if t < last_t:
                left_out += 1
                continue
            last_t = t
            lines.append(b",\n" + sample_line(sample if t == sample.t else replace(sample, t=t)))
        yield b"".join(lines)
    if left_out:
        log.error("job %s: %d samples whose time goes back are left out", row.job, left_out)
    yield b"\n]\n"


def _packed(parts: Iterator[bytes]) -> Iterator[bytes]:
    packer = zlib.compressobj(wbits=_GZIP_BITS)
    for part in parts:
        yield packer.compress(part)
    yield packer.flush()
