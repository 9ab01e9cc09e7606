"""The other side of the desk: requests with any header, and a desk that runs in a process of its own."""

import asyncio
import io
import json
import os
import queue
import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from urllib.parse import quote, urlsplit

import httpx
import numpy as np
from PIL import Image

from blendkit.colour import lab_to_srgb1
from blendkit.desk.app import make_desk_app
from blendkit.desk.project_desk import Desk

HOST = "127.0.0.1:8000"
ORIGIN = f"http://{HOST}"
TOKEN = "a-token-for-tests"


class DeskClient:
    """Asks an open desk as its own page would; headers given as None are left out."""

    def __init__(self, palette_path: Path, project_path: Path | None = None) -> None:
        self.desk = Desk(palette_path, project_path)
        self.app = make_desk_app(self.desk, TOKEN, "127.0.0.1", 8000)
        self.headers = {"host": HOST, "origin": ORIGIN, "cookie": f"{self.app.cookie}={TOKEN}"}

    def close(self) -> None:
        self.desk.close()

    def ask(
        self, method: str, path: str, headers: dict[str, str | None] | None = None, **more: Any
    ) -> httpx.Response:
        async def run() -> httpx.Response:
            transport = httpx.ASGITransport(self.app, raise_app_exceptions=False)
            async with httpx.AsyncClient(transport=transport, base_url=ORIGIN) as client:
                given = {name: value for name, value in {**self.headers, **(headers or {})}.items() if value}
                return await client.request(method, path, headers=given, **more)

        return asyncio.run(run())

    def get(self, path: str, **params: Any) -> Any:
        response = self.ask("GET", f"/api{path}", params=params)
        assert response.status_code == 200, response.text
        return response.json()

    def post(self, path: str, **body: Any) -> Any:
        response = self.try_post(path, **body)
        assert response.status_code == 200, response.text
        return response.json()

    def try_post(self, path: str, **body: Any) -> httpx.Response:
        return self.ask(
            "POST", f"/api{path}", content=json.dumps(body), headers={"content-type": "application/json"}
        )

    def send(self, path: str, name: str, data: bytes, **params: Any) -> httpx.Response:
        return self.ask(
            "POST", f"/api{path}", content=data, params=params, headers={"x-file-name": quote(name)}
        )

    def finish(self, job: str, seconds: float = 60.0) -> Any:
        found = self.desk.workshop.find(job)
        assert found.ended.wait(seconds), f"still {found.state}: {found.words}"
        return self.get("/job", job=job)


@dataclass
class OpenDesk:
    """A running desk: its palette, and the address that opens it."""

    palette: Path
    address: str
    process: subprocess.Popen[str]

    @property
    def origin(self) -> str:
        parts = urlsplit(self.address)
        return f"{parts.scheme}://{parts.netloc}"


@contextmanager
def open_desk(palette: Path, project: Path | None = None) -> Iterator[OpenDesk]:
    """Start the desk as its command does, in a process of its own."""
    code = "import sys, pathlib; from blendkit.desk import run_desk\n"
    code += "say = lambda line: print(line, flush=True)\n"
    code += "files = [pathlib.Path(one) if one else None for one in sys.argv[1:3]]\n"
    code += "if __name__ == '__main__': run_desk(*files, open_browser=False, say=say)"
    environment = {**os.environ, "OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}
    process = subprocess.Popen(
        [sys.executable, "-c", code, str(palette), str(project or "")],
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        env=environment,
    )
    lines: queue.Queue[str] = queue.Queue()
    reader = threading.Thread(target=lambda: [lines.put(line) for line in process.stdout], daemon=True)
    reader.start()
    try:
        line = lines.get(timeout=40)
        assert "?token=" in line, line
        yield OpenDesk(palette, line.split()[-1], process)
    finally:
        process.terminate()
        process.wait(10)
        reader.join(10)
        process.stdout.close()


def coloured_scan(chart: Any, labs: Any, paper_lab: Any, dpi: int = 150) -> bytes:
    """The chart's first page as a flatbed would see it, as PNG: each swatch filled with its marker's Lab.

    *labs* is by name, or by (name, coats) where a box is to differ, or by (name, "lift") where a blender went over
    it; further coats are darker by 8 L*.
    """
    from blendkit.page.page import Document, draw_png

    page = Image.open(io.BytesIO(draw_png(Document("x", chart.sheet.pages[:1]), dpi)[0])).convert("RGB")
    pixels = np.round(np.array(page) * lab_to_srgb1(paper_lab)).astype(np.uint8)
    for box in chart.spec.pages[0].boxes:
        if box.kind not in ("swatch", "lift"):
            continue
        name = box.markers[0]
        lab = labs.get(
            (name, "lift" if box.kind == "lift" else box.coats),
            np.asarray(labs[name]) - [8.0 * (box.coats - 1), 0.0, 0.0],
        )
        x0, y0, x1, y1 = (
            round(mm / 25.4 * dpi) for mm in (box.x_mm, box.y_mm, box.x_mm + box.w_mm, box.y_mm + box.h_mm)
        )
        pixels[y0:y1, x0:x1] = np.round(np.clip(lab_to_srgb1(lab), 0, 1) * 255)
    out = io.BytesIO()
    Image.fromarray(pixels).save(out, "PNG")
    return out.getvalue()
