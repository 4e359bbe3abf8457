"""The web application: routes that parse, call the desk, and answer in JSON."""

from __future__ import annotations

import json
from collections.abc import Awaitable, Callable
from importlib.resources import files
from typing import Any

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.middleware import Middleware
from starlette.middleware.gzip import GZipMiddleware
from starlette.requests import ClientDisconnect, Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from panelscan.errors import ConflictError, InputError, NothingFound, PanelscanError
from panelscan.review.desk import Desk
from panelscan.review.progress import Pace, how_it_goes
from panelscan.review.security import Guard, hosts_for, refusal

TYPES = {".html": "text/html", ".js": "text/javascript", ".css": "text/css",
         ".svg": "image/svg+xml"}
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
    pace = Pace()
    app = Starlette(
        routes=[*_static_routes(), *_picture_routes(desk), *_data_routes(desk, pace)],
        middleware=[
            Middleware(Guard, token=token, hosts=hosts_for(port)),
            Middleware(GZipMiddleware, minimum_size=2000),
        ],
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


def _data_routes(desk: Desk, pace: Pace) -> list[Route]:
    async def shelf(request: Request) -> Response:
        where = request.query_params.get("where")
        return JSONResponse(await run_in_threadpool(desk.shelf, where))

    async def page(request: Request) -> Response:
        return JSONResponse(await run_in_threadpool(desk.page, request.path_params["page_id"]))

    async def progress(request: Request) -> Response:
        return JSONResponse(await run_in_threadpool(how_it_goes, desk.library, pace))

    def change(page_id: str, told: dict[str, Any]) -> dict[str, Any]:
        changes = told.get("changes", [])
        answer = desk.change(page_id, int(told.get("revision", -1)), changes)
        if any(c.get("kind") == "page-is-fine" for c in changes):
            pace.page_done()
        return answer

    def posted(path: str, act: Callable[[str, dict[str, Any]], dict[str, Any]]) -> Route:
        async def answer(request: Request) -> Response:
            told = await _body(request)
            try:
                data = await run_in_threadpool(act, request.path_params["page_id"], told)
            except (KeyError, TypeError, ValueError, OverflowError) as cause:
                raise _BadBody("This request lacks something or holds something odd.") from cause
            return JSONResponse(data)

        return Route(f"/api/page/{{page_id}}/{path}", answer, methods=["POST"])

    return [
        Route("/api/shelf", shelf),
        Route("/api/progress", progress),
        Route("/api/page/{page_id}", page),
        posted("change", change),
        posted("propose", lambda p, t: desk.propose(p, float(t["x"]), float(t["y"]))),
        posted("snap", lambda p, t: desk.snap(p, t["ring"], float(t.get("reach", 12)))),
        posted("labels", lambda p, t: desk.label(p, dict(t["labels"]))),
    ]


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
