"""The other side of the desk: requests with any header, and a desk that runs in a process of its own."""

import asyncio
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

from blendkit.desk.app import make_desk_app
from blendkit.desk.session import Desk

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
