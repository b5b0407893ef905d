"""A small server that shows the board whatever a test wants; a process of its own.

    python -m tests.server.board.fake_server --port 8123

It serves the board's own routes under the strict policy that the real one has, and in the place of
the JSON routes and the feed some that follow the recording in `recorded.py`:

    POST /fake/show      {"t": 1800, "change": {"figures": {"pan_is_stale": true}}}
    POST /fake/play      {"t": 1860, "speed": 40}        the job's clock runs, so many times as fast
    POST /fake/feed      {"is_silent": true}             the stream stays open and says nothing
                         {"is_ended": true}              each stream asks to come again, and ends
    POST /fake/answers   {"verdict": "refused", "reason": "…"}
    GET  /fake/asked     commands and jobs that were posted, and how many streams are open
"""

import argparse
import asyncio
import json
import sys
import time
from collections.abc import AsyncIterator, Awaitable, Callable
from typing import Any

import msgspec
import uvicorn
from fastapi import FastAPI, Request, Response
from fastapi.responses import JSONResponse, StreamingResponse
from tests.server.board.recorded import JOB, LABEL, service, state_at

from drainscale_server.board.routes import board_routes

POLICY = "default-src 'self'; frame-ancestors 'none'; base-uri 'none'; form-action 'self'"
TURN_S = 0.1
TORQUES = [{"part": "pan bolts", "torque_Nm": 8.0}, {"part": "fill plug", "torque_Nm": 35.0}]
BEAT_S = 1.0


class Stage:
    """What the server shows now."""

    def __init__(self) -> None:
        self.t = 0.0
        self.speed = 0.0
        self.change: dict[str, Any] = {}
        self.job_state: str | None = None
        self.is_silent = False
        self.ended_n = 0
        self.is_empty = False
        self.streams = 0
        self.streams_opened = 0
        self.asked: list[Any] = []
        self.answer: dict[str, Any] = {"verdict": "accepted", "reason": ""}
        self._began = time.monotonic()

    def show(self, told: dict[str, Any]) -> None:
        """Set the scene."""
        self.t, self.speed = float(told.get("t", 0.0)), float(told.get("speed", 0.0))
        self.change, self.job_state = told.get("change", {}), told.get("job_state")
        self.is_empty = bool(told.get("is_empty", False))
        self._began = time.monotonic()

    def state(self) -> dict[str, Any]:
        """Tell the state as it is now."""
        t = self.t + self.speed * (time.monotonic() - self._began)
        state = state_at(min(t, service().end_t), time.time(), self.job_state)
        return dict(_merged(state, self.change))


def _merged(state: Any, change: Any) -> Any:
    if not isinstance(state, dict) or not isinstance(change, dict):
        return change
    return {**state, **{key: _merged(state.get(key), new) for key, new in change.items()}}


def _event(name: str, data: object) -> str:
    return f"event: {name}\ndata: {json.dumps(data)}\n\n"


async def _stream(stage: Stage) -> AsyncIterator[str]:
    stage.streams += 1
    stage.streams_opened += 1
    ended_n = stage.ended_n
    try:
        told = stage.state()
        yield _event("snapshot", told)
        said_s = time.monotonic()
        while True:
            await asyncio.sleep(TURN_S)
            if stage.ended_n > ended_n:
                yield _event("again", {})
                return
            if stage.is_silent:
                continue
            state = stage.state()
            changed = {key: new for key, new in state.items() if new != told[key]}
            changed.pop("server", None)
            if changed:
                told, said_s = state, time.monotonic()
                yield _event("change", changed)
            elif time.monotonic() - said_s >= BEAT_S:
                said_s = time.monotonic()
                yield _event("beat", {"now_s": time.time()})
    finally:
        stage.streams -= 1


def make_app() -> FastAPI:
    """Make the server."""
    stage, app = Stage(), FastAPI()
    app.include_router(board_routes())

    @app.middleware("http")
    async def policy(request: Request, go_on: Callable[[Request], Awaitable[Response]]) -> Response:
        response = await go_on(request)
        response.headers["Content-Security-Policy"] = POLICY
        return response

    _add_benches(app, stage)
    _add_jobs(app, stage)
    _add_control(app, stage)
    return app


def _add_benches(app: FastAPI, stage: Stage) -> None:
    @app.get("/api/v1/benches/{site}/{bench}/feed")
    async def feed(site: str, bench: str) -> StreamingResponse:
        return StreamingResponse(_stream(stage), media_type="text/event-stream")

    @app.post("/api/v1/benches/{site}/{bench}/commands")
    async def command(site: str, bench: str, order: dict[str, Any]) -> JSONResponse:
        stage.asked.append(order)
        if "status" in stage.answer:
            return JSONResponse({"detail": stage.answer["detail"]}, stage.answer["status"])
        return JSONResponse(stage.answer)

    @app.get("/api/v1/session")
    async def session() -> Any:
        return {"is_needed": False, "is_open": False}

    @app.get("/api/v1/benches")
    async def benches() -> Any:
        if stage.is_empty:
            return {"benches": []}
        state = stage.state()
        about = {
            "state": "online",
            "job": JOB,
            "label": LABEL,
            "cue": (state["cue"] or {}).get("cue"),
        }
        about |= {"step": state["procedure"]["step"], "last_seen_s": time.time()}
        other = {"site": "north", "bench": "bay-2", "state": "offline", "job": None}
        here = {"site": "north", "bench": "bay-1", **about}
        return {"benches": [here, {**other, "last_seen": "2026-11-26 08:15:00 CET"}]}


def _add_jobs(app: FastAPI, stage: Stage) -> None:
    @app.get("/api/v1/jobs")
    async def jobs() -> Any:
        spec = service().spec
        record = {"vehicle": "Aurelia Vento 2019", "model": "AV-6S", "fluid_name": "Blue can"}
        job = {"job": JOB, "label": LABEL, "state": "done", "record": record}
        return {"jobs": [] if stage.is_empty else [{**job, **_order(spec)}]}

    @app.get("/api/v1/jobs/{job}/record")
    async def record(job: str) -> Any:
        return {"job": job, "record": {"fluid_lot": "0815", "torques": TORQUES}}

    @app.patch("/api/v1/jobs/{job}/record")
    async def complete(job: str, entries: dict[str, Any]) -> Any:
        stage.asked.append(entries)
        return {"job": job, "record": entries}

    @app.get("/api/v1/planning")
    async def planning(model: str, bottle_L: float) -> Any:
        litres = {"expected_L": 4.5, "low_L": 4.1, "high_L": 4.9}
        known = {"basis": "history", "jobs_n": 12, "litres": litres, "bottles": 5}
        about = known if model == "AV-6S" else {"basis": "none"}
        return {"model": model, "bottle_L": bottle_L, **about}

    @app.post("/api/v1/jobs")
    async def new_job(order: dict[str, Any]) -> JSONResponse:
        stage.asked.append(order)
        if "status" in stage.answer:
            return JSONResponse({"detail": stage.answer["detail"]}, stage.answer["status"])
        return JSONResponse({"job": "j-new"}, 201)


def _order(spec: Any) -> dict[str, Any]:
    return {
        "procedure": msgspec.to_builtins(spec.procedure),
        "fluid": msgspec.to_builtins(spec.fluid),
    }


def _add_control(app: FastAPI, stage: Stage) -> None:
    @app.post("/fake/show")
    async def show(told: dict[str, Any]) -> dict[str, Any]:
        stage.show(told)
        return {}

    @app.post("/fake/feed")
    async def feed(told: dict[str, Any]) -> dict[str, Any]:
        stage.is_silent = told.get("is_silent", False)
        stage.ended_n += bool(told.get("is_ended"))
        return {}

    @app.post("/fake/answers")
    async def answers(told: dict[str, Any]) -> dict[str, Any]:
        stage.answer = told
        return {}

    @app.get("/fake/asked")
    async def asked() -> dict[str, Any]:
        told, stage.asked = stage.asked, []
        return {"asked": told, "streams": stage.streams, "streams_opened": stage.streams_opened}


def main() -> int:
    """Serve until the process is ended."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--port", type=int, required=True)
    port = parser.parse_args().port
    uvicorn.run(make_app(), host="127.0.0.1", port=port, log_level="warning")
    return 0


if __name__ == "__main__":
    sys.exit(main())
