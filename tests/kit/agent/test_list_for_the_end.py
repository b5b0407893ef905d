"""The list for the end: the sensors see the end of a job sooner than people tick what it asks."""

from dataclasses import replace
from pathlib import Path

import pytest
from tests.kit.agent.benches import bench_of, order
from tests.kit.agent.test_job_run import Memory, service

from drainscale.agent.job_run import LIST_S, JobRun
from drainscale.core import Live
from drainscale.errors import ProcedureError
from drainscale.messages.records import JobClosed, Note, ResultFormed
from drainscale.procedure.cue_facts import Cue, CueName
from drainscale.procedure.gate_book import Outcome
from drainscale.procedure.moments import Moment
from drainscale.procedure.steps import Step
from drainscale.quantities.samples import StepMark

END_S = 60.0


@pytest.fixture
def memory() -> Memory:
    return Memory()


@pytest.fixture
def run(memory: Memory) -> JobRun:
    """A job whose container was taken away: nothing is left to measure."""
    made = JobRun(bench_of(Path("spool")).with_order(order()), memory)
    made.tick_gates(0.0, ["check-plug-torqued"])
    made.feed([*service(0.0, END_S), StepMark(END_S, Step.DONE)])
    assert looked(made, END_S).step is Step.SEAL
    return made


def looked(run: JobRun, t: float) -> Live:
    live = run.look(t)
    assert live is not None
    return live


def of_the_end(run: JobRun) -> set[str]:
    return {gate.id for gate in run._gates.gates if gate.before is Moment.END}


def outcomes(memory: Memory, by: str = "kit") -> dict[str, str]:
    return {one.key: one.text for one in memory.all if isinstance(one, Note) and one.by == by}


def test_job_waits_for_its_list_and_says_what_is_to_do(run: JobRun, memory: Memory) -> None:
    live = looked(run, END_S + 1.0)
    assert (live.cue.name, live.cue.reason) == ("go-on", "seal")
    assert run.is_done
    assert not run.may_close
    assert not of_the_end(run) & outcomes(memory).keys()


def test_press_answers_the_list_and_the_record_says_ticked(run: JobRun, memory: Memory) -> None:
    assert run.pressed(END_S + 20.0)
    assert run.take_marks() == []  # the service is over already
    assert run.may_close
    run.close(END_S + 20.0, "done")
    told = outcomes(memory)
    ticked = {gate for gate in of_the_end(run) if told[gate] == Outcome.TICKED}
    assert ticked == of_the_end(run) - {"volumes-recorded"}
    assert told["volumes-recorded"] == Outcome.CONFIRMED  # nothing was drained here


def test_list_is_answered_on_the_board_one_by_one(run: JobRun, memory: Memory) -> None:
    *most, last = sorted(of_the_end(run) - {"volumes-recorded"})
    run.tick_gates(END_S + 5.0, most)
    assert not run.may_close
    run.tick_gates(END_S + 6.0, [last])
    assert run.may_close
    assert {*most, last} <= outcomes(memory, "board").keys()


def test_list_that_nobody_answers_is_let_be_and_told(run: JobRun, memory: Memory) -> None:
    looked(run, END_S + LIST_S - 1.0)
    assert not run.may_close
    assert looked(run, END_S + LIST_S).step is Step.DONE
    assert run.may_close
    run.close(END_S + LIST_S, "done")
    assert {outcomes(memory)[gate] for gate in of_the_end(run)} == {Outcome.UNANSWERED}


def test_what_is_ended_on_the_board_then_is_done_and_not_given_up(
    run: JobRun, memory: Memory
) -> None:
    run.command(END_S + 5.0, "abort", None)
    assert [one.outcome for one in memory.all if isinstance(one, JobClosed)] == ["done"]
    assert len(memory.told(ResultFormed)) == 1


def test_press_between_the_end_and_the_next_look_answers_the_list() -> None:
    run = JobRun(bench_of(Path("spool")).with_order(order()), Memory())
    run.tick_gates(0.0, ["check-plug-torqued"])
    run.feed(service(0.0, END_S))
    looked(run, END_S)
    run.feed([StepMark(END_S + 0.1, Step.DONE)])
    assert run.pressed(END_S + 0.2)
    assert run.may_close


def test_nothing_goes_back_once_all_is_measured(run: JobRun) -> None:
    with pytest.raises(ProcedureError):
        run.command(END_S + 5.0, "back", None)
    assert run.take_marks() == []
    assert looked(run, END_S + 6.0).cue.reason == "seal"


def test_list_does_not_hide_a_container_that_overflows(
    run: JobRun, monkeypatch: pytest.MonkeyPatch
) -> None:
    live = run.service.live(END_S)
    stop = replace(live, cue=Cue(CueName.STOP, "container-overflows"))
    monkeypatch.setattr(run.service, "live", lambda *_args, **_named: stop)
    assert looked(run, END_S + 1.0).cue == stop.cue


def test_sensors_that_are_put_away_meanwhile_are_no_fault(run: JobRun) -> None:
    # half a minute without a sample is a fault at any other time
    assert looked(run, END_S + 30.0).cue.name == "go-on"


def test_job_that_was_killed_while_it_waited_waits_again(run: JobRun) -> None:
    again = JobRun(bench_of(Path("spool")).with_order(order()), Memory())
    again.feed([*service(0.0, END_S), StepMark(END_S, Step.DONE)])
    assert again.is_done
    assert not again.may_close  # until it was looked at
    looked(again, END_S + 10.0)
    assert not again.may_close


def test_plug_whose_torque_was_not_told_is_asked_for_first() -> None:
    run = JobRun(bench_of(Path("spool")).with_order(order()), Memory())
    run.feed([*service(0.0, END_S), StepMark(END_S, Step.DONE)])
    cue = looked(run, END_S).cue
    assert (cue.name, cue.reason) == ("get-ready", "check-plug-torqued")
    assert run.pressed(END_S + 1.0)
    assert looked(run, END_S + 2.0).cue.reason == "seal"
    assert run.pressed(END_S + 3.0)
    assert run.may_close
