"""The web application: routes that parse, call the desk, and answer in JSON."""

from __future__ import annotations

import json
from collections.abc import Awaitable, Callable
from importlib.resources import files
from typing import Any

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.middleware import Middleware
from starlette.requests import ClientDisconnect, Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from panelscan.errors import ConflictError, InputError, NothingFound, PanelscanError
from panelscan.review.desk import Desk
from panelscan.review.reuse import SUFFIXES, formats
from panelscan.review.security import Guard, hosts_for, refusal

TYPES = {".html": "text/html", ".js": "text/javascript", ".css": "text/css",
         ".svg": "image/svg+xml"}
DEFAULT_FORMAT = "us-print"
Handler = Callable[[Request], Awaitable[Response]]


def make_app(desk: Desk, token: str, port: int) -> Starlette:
    """Application for a desk.

    Parameters
    ----------
    desk : Desk
        The library under review.
    token : str
        Start token.
    port : int
        Port that it will be reached at.
    """
    app = Starlette(
        routes=[*_static_routes(), *_picture_routes(desk), *_data_routes(desk)],
        middleware=[Middleware(Guard, token=token, hosts=hosts_for(port))],
        exception_handlers={PanelscanError: _said, Exception: _unexpected, 404: _unknown},
    )
    return app


def _static_routes() -> list[Route]:
    """One route for each file there is, so that no path comes from outside."""
    folder = files("panelscan.review").joinpath("static")
    routes = []
    for entry in folder.iterdir():
        ending = "." + entry.name.rpartition(".")[2]
        if ending in TYPES:
            kind, data = TYPES[ending], entry.read_bytes()
            path = "/" if entry.name == "index.html" else f"/static/{entry.name}"
            routes.append(Route(path, _fixed(data, kind)))
    return routes


def _fixed(data: bytes, kind: str) -> Handler:
    async def answer(request: Request) -> Response:
        return Response(data, media_type=kind)

    return answer


def _picture_routes(desk: Desk) -> list[Route]:
    def picture(make: Callable[[str], bytes]) -> Handler:
        async def answer(request: Request) -> Response:
            data = await run_in_threadpool(make, request.path_params["page_id"])
            headers = {"Cache-Control": "private, max-age=3600"}
            return Response(data, media_type="image/jpeg", headers=headers)

        return answer

    return [
        Route("/small/{page_id}", picture(desk.small)),
        Route("/picture/{page_id}", picture(desk.picture)),
    ]


def _data_routes(desk: Desk) -> list[Route]:
    def shelf(request: Request) -> dict[str, Any]:
        asked = request.query_params
        label = (asked.get("label", ""), asked.get("value", ""))
        return desk.shelf(asked.get("where", ""), asked.get("grid", ""), label)

    def check(request: Request) -> dict[str, Any]:
        page_format = request.query_params.get("format", DEFAULT_FORMAT)
        return desk.check(request.path_params["page_id"], page_format)

    def change(page_id: str, told: dict[str, Any]) -> dict[str, Any]:
        return desk.change(page_id, int(told["revision"]), told["changes"])

    def cut(page_id: str, told: dict[str, Any]) -> dict[str, Any]:
        (x0, y0), (x1, y1) = told["start"], told["end"]
        line = (float(x0), float(y0)), (float(x1), float(y1))
        return desk.cut(page_id, int(told["revision"]), str(told["panel"]), *line)

    def snap(page_id: str, told: dict[str, Any]) -> dict[str, Any]:
        sides = told.get("sides")
        numbers = None if sides is None else [int(k) for k in sides]
        return desk.snap(page_id, told["ring"], float(told.get("reach", 12)), numbers)

    def template(page_id: str, told: dict[str, Any]) -> dict[str, Any]:
        return desk.template(
            page_id, str(told.get("format", DEFAULT_FORMAT)), str(told.get("kind", "ora"))
        )

    return [
        _asked("/api/shelf", shelf),
        _asked("/api/progress", lambda request: desk.progress.told()),
        _asked("/api/formats", lambda request: {"formats": formats(), "kinds": list(SUFFIXES)}),
        _asked("/api/page/{page_id}", lambda r: desk.page(r.path_params["page_id"])),
        _asked("/api/page/{page_id}/alike", lambda r: desk.alike(r.path_params["page_id"])),
        _asked("/api/page/{page_id}/check", check),
        _posted("change", change),
        _posted("cut", cut),
        _posted("propose", lambda p, t: desk.propose(p, float(t["x"]), float(t["y"]))),
        _posted("snap", snap),
        _posted("labels", lambda p, t: desk.label(p, dict(t["labels"]))),
        _posted("template", template),
    ]


def _asked(path: str, act: Callable[[Request], dict[str, Any]]) -> Route:
    async def answer(request: Request) -> Response:
        return JSONResponse(await run_in_threadpool(act, request))

    return Route(path, answer)


def _posted(path: str, act: Callable[[str, dict[str, Any]], dict[str, Any]]) -> Route:
    async def answer(request: Request) -> Response:
        told = await _body(request)
        try:
            data = await run_in_threadpool(act, request.path_params["page_id"], told)
        except (KeyError, TypeError, ValueError, OverflowError) as cause:
            raise _BadBody("This request lacks something or holds something odd.") from cause
        return JSONResponse(data)

    return Route(f"/api/page/{{page_id}}/{path}", answer, methods=["POST"])


class _BadBody(PanelscanError):
    exit_code = 2


async def _body(request: Request) -> dict[str, Any]:
    if request.headers.get("content-type", "").partition(";")[0].strip() != "application/json":
        raise _BadBody("A request must be JSON.")
    try:
        told = json.loads(await request.body())
    except (ValueError, ClientDisconnect, RecursionError) as cause:
        raise _BadBody("This request is not JSON, or too long.") from cause
    if not isinstance(told, dict):
        raise _BadBody("A request must be a JSON object.")
    return told


async def _said(request: Request, error: Exception) -> Response:
    statuses = {ConflictError: 409, NothingFound: 404, InputError: 422}
    status = next((s for kind, s in statuses.items() if isinstance(error, kind)), 400)
    return refusal(status, str(error))


async def _unexpected(request: Request, error: Exception) -> Response:
    return refusal(500, f"Something unexpected went wrong: {type(error).__name__}.")


async def _unknown(request: Request, error: Exception) -> Response:
    return refusal(404, "There is nothing here.")
