"""The two shapes of a recording: SenML records as on disk, and what is made of them."""

from collections.abc import Sequence
from dataclasses import dataclass

import msgspec

from drainscale.quantities.samples import Sample

SENML_VERSION = 10  # RFC 8428, section 4.4: the version that it describes
TIME_DECIMALS = 6  # of `t` in a recording: whole microseconds


class Record(msgspec.Struct, gc=False, omit_defaults=True):
    """One SenML record as it stands in the file; the fields are those of RFC 8428, section 4.

    Fields that we don't know are left out on reading, as the RFC wants it.
    """

    bn: str | None = None
    bt: float | None = None
    bu: str | None = None
    bv: float | None = None
    bs: float | None = None
    bver: int | None = None
    n: str | None = None
    u: str | None = None
    t: float | None = None
    v: int | float | None = None
    vs: str | None = None
    vb: bool | None = None
    vd: str | None = None
    s: float | None = None
    ut: float | None = None

    def has_only_number(self) -> bool:
        """Tell whether ``v`` is the one value field."""
        return self.v is not None and self.vs is None and self.vb is None and self.vd is None

    def has_only_text(self) -> bool:
        """Tell whether ``vs`` is the one value field."""
        return self.vs is not None and self.v is None and self.vb is None and self.vd is None


@dataclass(frozen=True, slots=True)
class Recording:
    """One service as the sensors and the technician told it.

    Attributes:
        name: Base name of the bench, such as ``urn:dev:ops:bench-34:``.
        base_time_s: Instant of ``t = 0``, seconds since 1970-01-01 UTC.
        samples: In time order; their ``t`` is in seconds after ``base_time_s``.
        warnings: One line each: what was mended or ignored on reading.
    """

    name: str
    base_time_s: float
    samples: Sequence[Sample]
    warnings: Sequence[str] = ()
