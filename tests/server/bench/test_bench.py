import pytest
from tests.kit.uplink.conftest import needs_mosquitto

from drainscale.messages.codec import decode
from drainscale.messages.records import Envelope, Samples
from drainscale_server.bench import command
from drainscale_server.bench.publisher import BENCH, SAMPLES_N, payloads
from drainscale_server.bench.runs import run


def test_what_is_published_are_messages_of_ten_samples() -> None:
    for seq, payload in enumerate(payloads(30), start=1):
        message = decode(BENCH.topic("samples"), payload)
        assert isinstance(message, Envelope)
        assert isinstance(message.body, Samples)
        assert (message.seq, len(message.body.samples)) == (seq, SAMPLES_N)


@needs_mosquitto
def test_each_way_comes_to_an_end_and_gives_its_figure(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "120")
    assert command.main(["--rounds", "1", "--messages", "200"]) == 0
    told = capsys.readouterr().out
    assert "behind Mosquitto: messages" in told
    assert "ours by" in told
    assert "broker in the same process" in told


def test_without_mosquitto_it_says_so_and_holds_only_if_asked(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(command, "find_mosquitto", lambda: None)
    assert command.main([]) == 0
    assert command.main(["--hold"]) == 1
    assert "no mosquitto here" in capsys.readouterr().err


def test_a_worker_that_ends_early_is_told() -> None:
    with pytest.raises(RuntimeError, match="ended before it was ready"):
        run("no such way", 1)
