"""The web application: the page itself, its assets, and the calls behind it."""

import json
import secrets
from collections.abc import Callable, Mapping
from contextlib import asynccontextmanager
from email.utils import quote
from pathlib import Path
from typing import Any
from urllib.parse import unquote

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import ClientDisconnect, Request
from starlette.responses import FileResponse, JSONResponse, Response
from starlette.routing import Route

from blendkit.art.material import MATERIALS
from blendkit.art.shading import LAYERS
from blendkit.desk.advice_calls import PAIR_CALLS, PAPERS_CALLS, PHOTO_CALLS
from blendkit.desk.calls import Call, CallError, describe_calls, parse_question
from blendkit.desk.drawer_calls import DRAWER_CALLS, SHARE_CALLS
from blendkit.desk.files import MAX_FILE_MB, File
from blendkit.desk.jobs import BROKEN, fault_of
from blendkit.desk.looks import EYES
from blendkit.desk.project_calls import PROJECT_CALLS
from blendkit.desk.project_desk import Desk
from blendkit.desk.safety import Guard
from blendkit.desk.scrap_calls import SCRAP_CALLS
from blendkit.desk.session import Changed
from blendkit.errors import BlendkitError, Problem
from blendkit.exchange.records import FORM_OF_ENDING
from blendkit.palette import FINISHES
from blendkit.picture.reading import ENDINGS
from blendkit.plan.stages import STAGES, stage_tones
from blendkit.spectrum import LIGHTS
from blendkit.words import LEAN_WORDS, SAFETY_LINE

CALLS: tuple[Call, ...] = (
    *DRAWER_CALLS,
    *PAIR_CALLS,
    *PAPERS_CALLS,
    *PHOTO_CALLS,
    *SCRAP_CALLS,
    *PROJECT_CALLS,
    *SHARE_CALLS,
)
"""Everything that the page may ask."""

PLACES = {
    "drawer": "Drawer",
    "pair": "Pair",
    "papers": "Papers",
    "project": "Project",
    "scrap": "Scrap test",
    "photo": "Photo",
}
"""The six places, by their addresses."""

MAX_QUESTION_BYTES = 1_000_000
"""Longest question that is read; the longest real one names a few hundred markers."""

_ASSETS = Path(__file__).parent / "assets"
_FONTS = Path(__file__).parent.parent / "page" / "fonts"
_TYPES = {
    ".css": "text/css",
    ".js": "text/javascript",
    ".svg": "image/svg+xml",
    ".ttf": "font/ttf",
    ".webmanifest": "application/manifest+json",
}


class _TooLarge(Exception):
    """More was sent than is taken."""


def make_desk_app(
    desk: Desk, token: str | None = None, host: str = "127.0.0.1", port: int = 80, owns_desk: bool = True
) -> Guard:
    """Make the application for an open desk.

    Args:
        desk: what is open.
        token: what the opened address carries; a new one when None.
        host: the address that is listened on.
        port: the port, as the browser names it.
        owns_desk: whether the desk is closed when the application ends.

    Returns: an ASGI application behind its guard; ``.token`` is the token.
    """

    @asynccontextmanager
    async def lifespan(app: Starlette) -> Any:
        yield
        if owns_desk:
            await run_in_threadpool(desk.close)

    files = _asset_files()
    routes = [
        Route("/favicon.ico", _show_asset(files, "icon.svg")),
        Route("/assets/js/facts.js", _show_facts),
        Route("/assets/{name:path}", _show_asset(files, None)),
        Route("/api/openapi.json", _describe),
        *(Route(f"/api{call.path}", _answering(desk, call), methods=[call.method]) for call in CALLS),
        *(Route(f"/{place}", _page(desk, place)) for place in PLACES),
        Route("/", _page(desk, "drawer")),
    ]
    app = Starlette(
        routes=routes,
        lifespan=lifespan,
        exception_handlers={HTTPException: _say_http, Exception: _say_broken},
    )
    return Guard(app, token or secrets.token_urlsafe(24), host, port)


# ---------------------------------------------------------------- the page and its assets


def _asset_files() -> dict[str, Path]:
    """List every packaged asset by its address, so that no address can name another file."""
    files = {
        path.relative_to(_ASSETS).as_posix(): path
        for path in _ASSETS.rglob("*")
        if path.is_file() and path.suffix in _TYPES
    }
    return files | {f"fonts/{path.name}": path for path in _FONTS.glob("*.ttf")}


def _show_asset(files: Mapping[str, Path], fixed: str | None) -> Callable[[Request], Any]:
    async def show(request: Request) -> Response:
        path = files.get(fixed or request.path_params["name"])
        if path is None:
            raise HTTPException(404, "There is no such file.")
        # Fonts never change under a name; the rest is asked for again, and answered by its tag when unchanged.
        keep = "max-age=86400" if path.suffix == ".ttf" else "no-cache"
        return FileResponse(path, media_type=_TYPES[path.suffix], headers={"cache-control": keep})

    return show


async def _show_facts(request: Request) -> Response:
    return Response(facts_script(), media_type="text/javascript", headers={"cache-control": "no-cache"})


def _page(desk: Desk, place: str) -> Callable[[Request], Any]:
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    environment = Environment(
        loader=FileSystemLoader(_ASSETS), autoescape=True, undefined=StrictUndefined, trim_blocks=True
    )
    template = environment.get_template("desk.html")

    async def show(request: Request) -> Response:
        text = template.render(
            place=place, places=PLACES, palette=desk.palette_path.name, caution=SAFETY_LINE
        )
        return Response(text, media_type="text/html; charset=utf-8", headers={"cache-control": "no-store"})

    return show


async def _describe(request: Request) -> Response:
    from blendkit.version import __version__

    return JSONResponse(describe_calls(CALLS, __version__))


# ---------------------------------------------------------------- calls


def _answering(desk: Desk, call: Call) -> Callable[[Request], Any]:
    async def answer(request: Request) -> Response:
        try:
            if call.method == "GET" or call.takes_file:
                sent: dict[str, Any] = {
                    name: request.query_params.getlist(name) for name in request.query_params
                }
                given: Any = parse_question(call.asked, sent, as_text=True)
            else:
                given = parse_question(call.asked, await _read_question(request))
            more: list[Any] = []
            if call.takes_file:
                data = await _read_body(request, int(MAX_FILE_MB * 1e6))
                name = unquote(request.headers.get("x-file-name", "file"))
                if not data:
                    raise CallError("The file is empty.", [Problem("file", "nothing", "a file")])
                more = [await run_in_threadpool(desk.uploads.keep, name, data)]
                del data
            result = await run_in_threadpool(call.answer, desk, *call.given(given), *more)
        except Changed as error:
            return _say_fault(409, error)
        except BlendkitError as error:
            return _say_fault(422, error)
        except _TooLarge:
            limit = (
                f"at most {MAX_FILE_MB} MB" if call.takes_file else f"at most {MAX_QUESTION_BYTES:,} bytes"
            )
            return _say_fault(
                413, CallError("That is larger than is taken.", [Problem("size", "more", limit)])
            )
        except ClientDisconnect:
            return Response(status_code=400)
        if isinstance(result, File):
            headers = {"cache-control": "no-store"}
            if result.name:
                headers["content-disposition"] = f'attachment; filename="{quote(result.name)}"'
            return Response(result.data, media_type=result.media_type, headers=headers)
        return JSONResponse(result, headers={"cache-control": "no-store"})

    return answer


async def _read_body(request: Request, limit: int) -> bytes:
    length = request.headers.get("content-length", "")
    if length.isdigit() and int(length) > limit:
        raise _TooLarge
    parts: list[bytes] = []
    size = 0
    async for part in request.stream():
        size += len(part)
        if size > limit:
            raise _TooLarge
        parts.append(part)
    return b"".join(parts)


async def _read_question(request: Request) -> dict[str, Any]:
    data = await _read_body(request, MAX_QUESTION_BYTES)
    if request.headers.get("content-type", "").partition(";")[0].strip() != "application/json":
        raise CallError(
            "The question must be JSON.", [Problem("content-type", "another type", "application/json")]
        )
    try:
        question = json.loads(data or b"{}", parse_constant=_no_constant)
    except (ValueError, RecursionError):
        raise CallError(
            "The question is not JSON.", [Problem("body", "other bytes", "a JSON object")]
        ) from None
    if not isinstance(question, dict):
        raise CallError("The question is not JSON.", [Problem("body", "no object", "a JSON object")])
    return question


def _no_constant(text: str) -> float:
    raise ValueError(text)


def _say_fault(status: int, error: BlendkitError) -> Response:
    return JSONResponse(fault_of(error), status_code=status, headers={"cache-control": "no-store"})


async def _say_http(request: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)
    words = {404: "There is nothing at this address.", 405: "This can't be asked in this way."}
    fault = {"message": words.get(error.status_code, error.detail), "problems": []}
    return JSONResponse(fault, status_code=error.status_code)


async def _say_broken(request: Request, error: Exception) -> Response:
    return JSONResponse({"message": BROKEN, "problems": []}, status_code=500)


FACTS: dict[str, Any] = {
    "LIGHTS": [[code, light.label[0].upper() + light.label[1:]] for code, light in LIGHTS.items()],
    "EYES": list(EYES.items()),
    "FINISHES": FINISHES,
    "LEANS": list(LEAN_WORDS.items()),
    "PICTURES": ",".join(ENDINGS),
    "PALETTES": ",".join(FORM_OF_ENDING),
    "CAUTION": SAFETY_LINE,
    "MATERIALS": [[name, one.label] for name, one in MATERIALS.items()],
    "LAYERS": LAYERS,
    "STAGES": [[name, words, stage_tones(name)] for name, words in STAGES.items()],
}
"""By the names that the page imports; each is told where it lives, and here only handed on."""


def facts_script() -> str:
    """Give the facts as an ES module of constants."""
    return "".join(f"export const {name} = {json.dumps(value)};\n" for name, value in FACTS.items())
