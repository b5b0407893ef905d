"""Any message to bytes and back: JSON, checked both ways. Pure.

    topic, payload = bench_id.topic(envelope.leaf), encode(envelope)
    received = decode(topic, payload)

Decoding never lets anything through that is not of the type its topic promises, and raises
nothing but MessageError whatever the bytes are.
"""

import math
from typing import Any

import msgspec

from drainscale.errors import MessageError
from drainscale.messages.packs import PackError, decode_pack, encode_pack
from drainscale.messages.records import FORMAT, Envelope, Samples, TypedBody
from drainscale.messages.telegrams import (
    Ack,
    Command,
    CommandAnswer,
    JobOrder,
    Live,
    Status,
)
from drainscale.messages.topics import LEAVES, BenchId, split_topic

# the largest is the result of a long service: some 150 kB with its forecasts
MAX_BYTES = 4 * 1024 * 1024

Telegram = Status | Live | Command | CommandAnswer | Ack | JobOrder
Message = Envelope | Telegram


class _TypedEnvelope(msgspec.Struct, frozen=True, kw_only=True):
    """An envelope as it stands in JSON: samples never do."""

    format: int
    site: str
    bench: str
    boot: str
    seq: int
    job: str | None = None
    body: TypedBody


class _Peek(msgspec.Struct):
    format: int


_PEEK = msgspec.json.Decoder(_Peek)
_ENVELOPE = msgspec.json.Decoder(_TypedEnvelope)
_TELEGRAMS: dict[str, msgspec.json.Decoder[Telegram]] = {
    "status": msgspec.json.Decoder(Status),
    "live": msgspec.json.Decoder(Live),
    "answer": msgspec.json.Decoder(CommandAnswer),
    "ack": msgspec.json.Decoder(Ack),
    "job": msgspec.json.Decoder(JobOrder),
    "command": msgspec.json.Decoder(Command),
}


def encode(message: Message) -> bytes:
    """Write a message's payload.

    Raises:
        ValueError: A number that is not finite, or a sample that a recording cannot hold. That
            is a bug of the caller: a value that could not be measured is None.
    """
    if not isinstance(message, Envelope):
        return _json(message)
    body = message.body
    if isinstance(body, Samples):
        return encode_pack(message, body, BenchId(message.site, message.bench).base_name)
    typed = _TypedEnvelope(
        format=message.format,
        site=message.site,
        bench=message.bench,
        boot=message.boot,
        seq=message.seq,
        job=message.job,
        body=body,
    )
    return _json(typed)


def decode(topic: str, payload: bytes) -> Message:
    """Read a message.

    Raises:
        MessageError: No topic of ours; or not what the topic promises: malformed, a missing or
            wrong field, a newer format, another bench than the topic's.
    """
    bench_id, leaf = split_topic(topic)
    if len(payload) > MAX_BYTES:
        raise MessageError(f"{topic}: {len(payload)} bytes, at most {MAX_BYTES}")
    try:
        message = _decode(bench_id, leaf, payload)
    except (msgspec.DecodeError, UnicodeDecodeError, RecursionError, PackError) as error:
        raise MessageError(f"{topic}: {error}") from error
    _check(message, bench_id, leaf, topic)
    return message


def _decode(bench_id: BenchId, leaf: str, payload: bytes) -> Message:
    if leaf == "samples":
        return decode_pack(payload, bench_id.site, bench_id.bench)
    # first: what a newer format holds need not look like ours
    _check_format(_PEEK.decode(payload).format)
    if not LEAVES[leaf].is_numbered:
        return _TELEGRAMS[leaf].decode(payload)
    typed = _ENVELOPE.decode(payload)
    return Envelope(
        site=typed.site,
        bench=typed.bench,
        boot=typed.boot,
        seq=typed.seq,
        job=typed.job,
        body=typed.body,
        format=typed.format,
    )


def _check(message: Message, bench_id: BenchId, leaf: str, topic: str) -> None:
    if isinstance(message, Envelope):
        if message.leaf != leaf:
            raise MessageError(f"{topic}: holds a body of type {message.leaf!r}")
        if message.seq < 1 or not message.boot:
            raise MessageError(f"{topic}: seq at least 1 and a boot expected")
        if message.format != FORMAT:
            raise MessageError(f"{topic}: format {message.format}, this version knows {FORMAT}")
    if isinstance(message, Envelope | Status | Live):
        said = (message.site, message.bench)
        if said != (bench_id.site, bench_id.bench):
            raise MessageError(f"{topic}: says it is of {message.site}/{message.bench}")


def _check_format(number: int) -> None:
    if number != FORMAT:
        raise PackError(f"format {number}, this version knows {FORMAT}")


def _json(message: Any) -> bytes:
    _check_finite(msgspec.to_builtins(message))
    return msgspec.json.encode(message)


def _check_finite(value: object) -> None:
    # the encoder would write null for them, and that means "not measured"
    if isinstance(value, float):
        if not math.isfinite(value):
            raise ValueError(f"{value} is not a finite number")
    elif isinstance(value, dict):
        for item in value.values():
            _check_finite(item)
    elif isinstance(value, list | tuple):
        for item in value:
            _check_finite(item)
