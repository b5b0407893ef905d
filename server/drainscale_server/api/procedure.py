"""Routes of the procedure as data: cautions at a step, gates of a unit."""

from typing import Annotated

import msgspec
from fastapi import APIRouter, Query
from fastapi.responses import Response

from drainscale.procedure.cautions import CAUTIONS, cautions_at
from drainscale.procedure.gates import gates_of
from drainscale.procedure.steps import Step
from drainscale.quantities.job import FillVia, LevelMethod, ProcedureLimits
from drainscale_server.api.documents import answers, json_answer
from drainscale_server.feed.board_state import AnswerPart


class CautionTold(msgspec.Struct, frozen=True, kw_only=True):
    """A caution; ``from_C``: only for fluid at least this hot, or of unknown temperature."""

    key: str
    text: str
    steps: tuple[str, ...]
    source: str
    from_C: float | None


class Cautions(msgspec.Struct, frozen=True):
    """Where work can hurt. The vehicle's service information and local codes go before them."""

    cautions: list[CautionTold]


class GateTold(msgspec.Struct, frozen=True, kw_only=True):
    """A gate of the procedure."""

    id: str
    group: str
    before: str
    text: str
    is_measured: bool
    answers: tuple[AnswerPart, ...]


class Gates(msgspec.Struct, frozen=True):
    """The gates of one kind of unit, in the order in which they are asked."""

    gates: list[GateTold]


def procedure_routes() -> APIRouter:
    """Make the routes."""
    router = APIRouter(tags=["procedure"])

    @router.get("/cautions", responses=answers(Cautions, "The cautions"))
    def list_cautions(
        step: Annotated[Step | None, Query(description="None: all")] = None,
        fluid_C: Annotated[
            float | None, Query(ge=-60, le=300, allow_inf_nan=False, description="Unknown is hot")
        ] = None,
    ) -> Response:
        """List what to be careful of, at a step or at all."""
        chosen = CAUTIONS if step is None else cautions_at(step, fluid_C)
        told = [
            CautionTold(
                key=one.id,
                text=one.text,
                steps=tuple(one.steps),
                source=one.source,
                from_C=one.from_C,
            )
            for one in chosen
        ]
        return json_answer(Cautions(told))

    @router.get("/gates", responses=answers(Gates, "The gates"))
    def list_gates(
        level_method: LevelMethod = "standpipe", fill_via: FillVia = "fill-plug"
    ) -> Response:
        """List what has to be so before the service goes on."""
        # the gates go by the kind of unit alone; the other limits only have to be there
        limits = ProcedureLimits(level_method, (35.0, 45.0), 0.5, 60.0, 3.0, fill_via)
        told = [
            GateTold(
                id=gate.id,
                group=gate.group,
                before=gate.before,
                text=gate.ask,
                is_measured=not gate.is_tick,
                answers=tuple(AnswerPart(one.key, one.record) for one in gate.answers),
            )
            for gate in gates_of(limits)
        ]
        return json_answer(Gates(told))

    return router
