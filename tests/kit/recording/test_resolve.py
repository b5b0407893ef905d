"""Base fields, held against the examples of RFC 8428."""

import msgspec
import pytest

from drainscale.recording.records import Record
from drainscale.recording.resolve import Resolved, ResolveError, resolve

# RFC 8428 (2018), section 5.1.2, as its working group's repository has it
RFC_MULTIPLE = b"""[
{"bn":"urn:dev:ow:10e2073a0108006:","bt":1276020076.001,"bu":"A","bver":5,
 "n":"voltage","u":"V","v":120.1},
{"n":"current","t":-5,"v":1.2},
{"n":"current","t":-4,"v":1.3},
{"n":"current","t":-3,"v":1.4},
{"n":"current","t":-2,"v":1.5},
{"n":"current","t":-1,"v":1.6},
{"n":"current","v":1.7}
]"""


def resolved(text: bytes) -> list[Resolved]:
    return list(resolve(msgspec.json.decode(text, type=list[Record])))


def test_example_of_the_standard_resolves_as_printed_there() -> None:
    # RFC 8428, section 5.1.3: the resolved data of the example above
    found = [(r.name, r.record.u, round(r.time_s, 3), r.record.v) for r in resolved(RFC_MULTIPLE)]
    name = "urn:dev:ow:10e2073a0108006:"
    assert found == [
        (name + "voltage", "V", 1276020076.001, 120.1),
        (name + "current", "A", 1276020071.001, 1.2),
        (name + "current", "A", 1276020072.001, 1.3),
        (name + "current", "A", 1276020073.001, 1.4),
        (name + "current", "A", 1276020074.001, 1.5),
        (name + "current", "A", 1276020075.001, 1.6),
        (name + "current", "A", 1276020076.001, 1.7),
    ]
    assert {r.base.version for r in resolved(RFC_MULTIPLE)} == {5}


def test_missing_value_beside_a_base_value_counts_as_nought() -> None:
    # RFC 8428, section 4.1: "the missing attribute is considered to be zero" (from memory)
    (one,) = resolved(b'[{"n":"a","bv":3.5}]')
    assert one.record.v == 3.5


def test_base_value_leaves_texts_alone() -> None:
    (one,) = resolved(b'[{"bv":3.5,"n":"a","vs":"open"}]')
    assert (one.record.v, one.record.vs) == (None, "open")


def test_sum_is_there_only_if_sum_or_base_sum_is() -> None:
    sums = [r.record.s for r in resolved(b'[{"n":"a","v":1},{"n":"a","s":2},{"bs":3,"n":"a"}]')]
    assert sums == [None, 2.0, 3.0]


def test_base_fields_hold_until_the_next_of_their_kind() -> None:
    text = b"""[{"bn":"x/","bu":"s"},{"n":"a","v":1},
               {"bn":"y/"},{"n":"a","v":2},{"n":"b","u":"m","v":3}]"""
    found = [(r.name, r.record.u) for r in resolved(text)]
    assert found == [("x/a", "s"), ("y/a", "s"), ("y/b", "m")]


def test_time_apart_from_its_base_keeps_its_microseconds() -> None:
    (one,) = resolved(b'[{"bt":1790176804,"n":"a","t":0.000001,"v":1}]')
    assert one.after_base_s == 0.000001


@pytest.mark.parametrize("version", [11, 99])
def test_newer_version_is_not_guessed_at(version: int) -> None:
    with pytest.raises(ResolveError, match=f"bver {version}"):
        resolved(b'[{"n":"a","v":1,"bver":%d}]' % version)


def test_version_that_changes_midway_is_refused_with_its_place() -> None:
    with pytest.raises(ResolveError) as caught:
        resolved(b'[{"n":"a","v":1},{"n":"a","v":1,"bver":5}]')
    assert caught.value.index == 1
