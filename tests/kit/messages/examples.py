"""One message for each leaf, made up; the golden files are made of the same."""

from drainscale.messages.codec import Message
from drainscale.messages.records import (
    Body,
    CueShown,
    Envelope,
    EventTold,
    FaultTold,
    JobClosed,
    JobOpened,
    Note,
    ResultFormed,
    Samples,
    leaf_of,
)
from drainscale.messages.telegrams import (
    Ack,
    Command,
    CommandAnswer,
    Figures,
    JobOrder,
    Kept,
    Live,
    Status,
)
from drainscale.quantities.job import (
    Container,
    FluidSheet,
    Job,
    PanSensor,
    ProcedureLimits,
    ScaleSettings,
)
from drainscale.quantities.samples import ScaleCount

JOB = Job(
    procedure=ProcedureLimits("standpipe", (35.0, 45.0), 0.6, 60.0, 3.0),
    fluid=FluidSheet(846.0, 15.0, 1.5, 29.5, 6.0),
    scale=ScaleSettings(20.0, 10.0, (0.0, 5.0), (81234.0, 2180321.0), 5e-4, 4e-4),
    pan_sensor=PanSensor(0.9, 0.03, 25.0, 6.0, 0.7),
    container=Container(8.0),
)


def envelope_of(body: Body, seq: int = 1) -> Envelope:
    return Envelope(site="north", bench="bay-3", boot="b7c1", seq=seq, job="j-1", body=body)


def one_of_each() -> dict[str, Message]:
    """Make a message for each leaf."""
    figures = Figures(t=2.0, step="level", fluid_C=39.5, opens_90=(1.0, 2.5), faults=("pan",))
    bodies: list[Body] = [
        JobOpened(base_time_s=1790176804.5, is_clock_set=True, kernel_boot="k1",
                  started_monotonic_s=81.25, kit_version="0.1.0", spec=JOB),
        Samples(base_time_s=1790176804.0, is_clock_set=False, samples=(ScaleCount(0.1, 5),)),
        EventTold(t=1.5, event="sensor-fault", step="drain", sensor="pan"),
        CueShown(t=2.0, cue="open", reason="in-window", step="level"),
        Note(t=3.0, key="vehicle-level", by="board", text="both ways"),
        FaultTold(code="spool-set-aside", text="The spool was damaged."),
        ResultFormed(t=9.0, is_final=True, result={"format": 1, "net": {"volume_20C_L": None}}),
        JobClosed(t=10.0, outcome="aborted"),
    ]  # fmt: skip
    numbered: dict[str, Message] = {
        leaf_of(body): envelope_of(body, seq=i + 1) for i, body in enumerate(bodies)
    }
    telegrams: dict[str, Message] = {
        "status": Status(state="online", now_s=3.5, kept=(Kept(boot="a", first=1, last=9),),
                         counters={"reconnects": 2}, site="north", bench="bay-3", boot="b7c1"),
        "live": Live(now_s=4.0, job="j-1", cue="open", figures=figures,
                     site="north", bench="bay-3", boot="b7c1"),
        "answer": CommandAnswer(id="c1", boot="b7c1", verdict="refused", now_s=4.0, reason="late"),
        "ack": Ack(boot="b7c1", through=17),
        "job": JobOrder(job="j-2", procedure=JOB.procedure, fluid=JOB.fluid, label="blue van"),
        "command": Command(id="c1", boot="b7c1", step="level", command="back", expires_s=9.0),
    }  # fmt: skip
    return numbered | telegrams
