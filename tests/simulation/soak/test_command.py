"""The command itself: one service for real, and calls that leave nothing to do."""

import pytest

from drainscale_sim.soak.command import main


def test_one_service_for_real_is_right_and_replays_to_the_same(
    capsys: pytest.CaptureFixture[str],
) -> None:
    one = ["--scenario", "check-plug", "--seed", "11", "--count", "1", "--processes", "1"]
    assert main([*one, "--only", "services", "--only", "replay"]) == 0
    told = capsys.readouterr()
    assert "11 closed-in-window yes" in " ".join(told.out.split())
    assert "3 of 3 claims hold" in told.out
    assert "[1/1, " in told.err  # progress, apart from the tables


@pytest.mark.parametrize(
    ("call", "why"),
    [
        (["--only", "kills", "--kills", "0"], "nothing to run"),
        (["--count", "0"], "1 or more"),
        (["--kills", "-1"], "0 or more"),
        (["--processes", "0"], "1 or more"),
        (["--only", "weather"], "invalid choice"),
    ],
)
def test_a_wrong_call_is_status_2_and_says_why(
    call: list[str], why: str, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as ended:
        main(call)
    assert ended.value.code == 2
    assert why in capsys.readouterr().err
