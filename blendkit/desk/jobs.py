"""Long work beside the page: one process of its own, so that the page stays quick and a stop is a real stop.

What runs there takes a ``progress`` and gives plain results.
"""

import importlib
import io
import multiprocessing
import secrets
import threading
import time
import traceback
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any

from blendkit.errors import BlendkitError, Problem
from blendkit.palette import Palette
from blendkit.words import Progress, step_words

MOST_SECONDS = 180
"""Longest that one job may take, seconds. Own judgement."""

MOST_MB = 2500
"""Memory that one job may take. Own judgement; noise of 2 megapixels, which has no parts, wants 3,450."""

KEPT_JOBS = 40
"""Finished jobs whose result can still be asked for."""

BROKEN = "blendkit failed at this, which is a fault of its own, not yours. Nothing was written."


@dataclass(frozen=True)
class JobView:
    """A job as the page sees it.

    Args:
        job: its number.
        title: what was asked for.
        state: waiting, running, done, failed or stopped.
        share: how much is done, 0 to 1.
        words: what it is doing.
        result: the answer once done.
        fault: message and problems once failed.
    """

    job: str
    title: str
    state: str
    share: float
    words: str
    result: Any
    fault: dict[str, Any] | None


class Job:
    """One piece of long work; written by its own thread, read by the page."""

    def __init__(self, title: str) -> None:
        self.number = secrets.token_hex(8)
        self.title = title
        self.state = "waiting"
        self.share = 0.0
        self.words = "waiting for its turn"
        self.result: Any = None
        self.fault: dict[str, Any] | None = None
        self.stop_asked = threading.Event()
        self.ended = threading.Event()

    @property
    def view(self) -> JobView:
        """The job as the page sees it."""
        return JobView(self.number, self.title, self.state, self.share, self.words, self.result, self.fault)

    def progress(self, share: float, step: str, what: str = "", /) -> None:
        """Note how far it is."""
        self.share, self.words = min(max(share, self.share), 1.0), step_words(step, what)

    def end(self, state: str, words: str = "") -> None:
        """Close the job."""
        self.words = words or state
        self.share = 1.0 if state == "done" else self.share
        self.state = state
        self.ended.set()


def fault_of(error: BlendkitError) -> dict[str, Any]:
    """Give a user's mistake as plain data."""
    return {
        "message": error.message,
        "problems": [
            {"where": one.where, "found": one.found, "accepted": one.accepted} for one in error.problems
        ],
    }


class Workshop:
    """Runs jobs one after another in a process that is started when first needed."""

    def __init__(self, most_seconds: float = MOST_SECONDS, most_mb: float = MOST_MB) -> None:
        self.most_seconds = most_seconds
        self.most_mb = most_mb
        self._jobs: OrderedDict[str, Job] = OrderedDict()
        self._turn = threading.Lock()
        self._table = threading.Lock()
        self._process: Any = None
        self._pipe: Connection | None = None

    def start(self, title: str, function: str, *args: Any, then: Callable[[Any], Any] | None = None) -> Job:
        """Queue a job.

        Args:
            title: what the person asked for.
            function: ``module:name`` of a function that takes *args* and a ``progress`` keyword.
            args: must be picklable, and so must the result.
            then: makes the page's answer of the result, in this process; it may raise a BlendkitError.

        Returns: the job, waiting.
        """
        job = self._new(title)

        def work() -> Any:
            with self._turn:
                self._begin(job)
                result = self._in_process(job, function, args)
            if job.stop_asked.is_set():
                raise _Stopped("stopped; nothing was written")
            return result if then is None else then(result)

        threading.Thread(target=self._end_with, args=(job, work), daemon=True).start()
        return job

    def _new(self, title: str) -> Job:
        job = Job(title)
        with self._table:
            self._jobs[job.number] = job
            ended = [number for number, one in self._jobs.items() if one.ended.is_set()]
            for number in ended[: max(0, len(self._jobs) - KEPT_JOBS)]:
                del self._jobs[number]
        return job

    def start_here(self, title: str, work: Callable[[], Any]) -> Job:
        """Run short work in a thread of this process, beside what the workshop does.

        Args:
            title: what the person asked for.
            work: gives the page's answer; it may raise a BlendkitError.

        Returns: the job.
        """
        job = self._new(title)
        self._begin(job)
        threading.Thread(target=self._end_with, args=(job, work), daemon=True).start()
        return job

    def run(self, title: str, function: str, *args: Any) -> Any:
        """Do a job and wait for it. Returns: its result. Raises: BlendkitError as it came, or why it was ended."""
        with self._turn:
            return self._in_process(Job(title), function, args)

    def warm(self) -> None:
        """Have the process ready for a job that is likely to come."""
        if not self._turn.locked():
            self.start("Get ready", "blendkit.desk.jobs:get_ready")

    def find(self, number: str) -> Job:
        """Give a job by its number.

        Raises: BlendkitError when it is not known, or no longer.
        """
        with self._table:
            job = self._jobs.get(number)
        if job is None:
            raise BlendkitError(
                "That work is no longer known here; start it again.", [Problem("job", repr(number), "a job")]
            )
        return job

    def stop(self, number: str) -> Job:
        """Stop a job: one that waits never starts, one that runs is ended at once."""
        job = self.find(number)
        job.stop_asked.set()
        return job

    def close(self) -> None:
        """End the process and every job."""
        with self._table:
            jobs = list(self._jobs.values())
        for job in jobs:
            job.stop_asked.set()
        self._end_process()

    @staticmethod
    def _begin(job: Job) -> None:
        if job.stop_asked.is_set():
            raise _Stopped("stopped before it began")
        job.state = "running"
        job.share, job.words = 0.01, "beginning"

    def _end_with(self, job: Job, work: Callable[[], Any]) -> None:
        """Do the work, and close the job with what came of it."""
        try:
            job.result = work()
            job.end("done")
        except BlendkitError as error:
            job.fault = fault_of(error)
            job.end("failed", error.message)
        except _Stopped as stop:
            job.end("stopped", str(stop))
        except Exception:
            traceback.print_exc()
            job.fault = {"message": BROKEN, "problems": []}
            job.end("failed", BROKEN)

    def _in_process(self, job: Job, function: str, args: tuple[Any, ...]) -> Any:
        pipe = self._begin_process()
        try:
            pipe.send((function, args))
            end = time.monotonic() + self.most_seconds
            while True:
                while not pipe.poll(0.05):
                    if job.stop_asked.is_set():
                        raise _Stopped("stopped; nothing was written")
                    if time.monotonic() > end:
                        raise _Ceiling(f"This was not done after {self.most_seconds:g} seconds")
                    if _memory_mb(self._process.pid) > self.most_mb:
                        raise _Ceiling(f"This wants more memory than {self.most_mb / 1000:g} GB")
                kind, value = pipe.recv()
                if kind == "progress":
                    job.progress(*value)
                elif kind == "done":
                    return value
                elif kind == "mistake":
                    raise value
                else:
                    raise RuntimeError(value)
        except (_Stopped, _Ceiling, EOFError, OSError) as error:
            self._end_process()
            if isinstance(error, _Stopped):
                raise
            if isinstance(error, _Ceiling):
                raise BlendkitError(
                    f"{error}, so it was ended; nothing was written. Try a smaller picture, or one with cleaner "
                    "lines and fewer specks."
                ) from None
            raise BlendkitError(
                "The work ended before it was done; most often the computer ran out of memory. "
                "Try a smaller picture."
            ) from None

    def _begin_process(self) -> Connection:
        if self._process is None or not self._process.is_alive() or self._pipe is None:
            context = multiprocessing.get_context("spawn")
            self._pipe, other = context.Pipe()
            self._process = context.Process(target=_serve, args=(other,), daemon=True, name="blendkit-work")
            self._process.start()
            other.close()
        return self._pipe

    def _end_process(self) -> None:
        process, self._process = self._process, None
        if process is not None:
            process.kill()
            process.join(5)
        if self._pipe is not None:
            self._pipe.close()
            self._pipe = None


class _Stopped(Exception):
    """The person asked to stop."""


class _Ceiling(Exception):
    """A job took more than it may."""


def _memory_mb(pid: int) -> float:
    """Memory that a process has now, MB; 0 where the system doesn't tell it as Linux does."""
    try:
        return int(Path(f"/proc/{pid}/statm").read_text().split()[1]) * 4096 / 1e6
    except (OSError, ValueError, IndexError):
        return 0.0


def _serve(pipe: Connection) -> None:
    """Do jobs as they come, until the other end closes."""
    import signal

    signal.signal(signal.SIGINT, signal.SIG_IGN)

    def progress(share: float, step: str, what: str = "", /) -> None:
        pipe.send(("progress", (share, step, what)))

    while True:
        try:
            function, args = pipe.recv()
        except (EOFError, OSError):
            return
        try:
            module, _, name = function.partition(":")
            value = getattr(importlib.import_module(module), name)(*args, progress=progress)
            pipe.send(("done", value))
        except BlendkitError as error:
            pipe.send(("mistake", _Mistake.of(error)))
        except Exception:
            pipe.send(("broken", traceback.format_exc()))


class _Mistake(BlendkitError):
    """A user's mistake on its way between processes, whatever its own class takes."""

    @classmethod
    def of(cls, error: BlendkitError) -> "_Mistake":
        return cls(error.message, error.problems)

    def __reduce__(self) -> Any:
        return _Mistake, (self.message, self.problems)


def get_ready(progress: Progress) -> None:
    """Import what opening a drawing needs."""
    importlib.import_module("blendkit.project.work")


def prepare_picture(path: str, name: str, side: int, progress: Progress) -> dict[str, Any]:
    """Read a picture, and make a small JPEG of it for the screen.

    Args:
        path: where the file is kept.
        name: what the person calls it.
        side: longest side of the small one, pixels.
        progress: told how far it is.

    Returns: width, height, space, notes, and the JPEG as bytes.
    Raises: PictureError where it is no picture.
    """
    from blendkit.picture import read_picture

    progress(0.1, "open", name)
    picture = read_picture(Path(path).read_bytes(), name=name)
    progress(0.7, "view")
    return {
        "name": name,
        "width": picture.width_px,
        "height": picture.height_px,
        "space": picture.space,
        "notes": list(picture.notes),
        "view": _small_jpeg(picture.to_srgb8(), side),
    }


def _small_jpeg(pixels: Any, side: int) -> bytes:
    from PIL import Image

    image = Image.fromarray(pixels)
    image.thumbnail((side, side), Image.Resampling.LANCZOS, reducing_gap=2.0)
    out = io.BytesIO()
    image.save(out, "JPEG", quality=88)
    return out.getvalue()


def find_photo_colours(
    path: str,
    name: str,
    count: int,
    accents: int,
    grey: tuple[float, float] | None,
    white: tuple[float, float] | None,
    progress: Progress,
) -> dict[str, Any]:
    """Find a photo's main colours.

    Args:
        path: where the file is kept.
        name: what the person calls it.
        count, accents: how many main colours and small vivid ones.
        grey, white: a spot that is grey or white in truth, as shares of width and height, or None.
        progress: told how far it is.

    Returns: ``found``, the record of main colours, and ``view``, the photo as balanced, as a JPEG.
    Raises: PictureError.
    """
    from blendkit.art.photo import find_main_colours, shown_photo
    from blendkit.picture import read_picture

    progress(0.05, "open", name)
    picture = read_picture(Path(path).read_bytes(), name=name)

    def spot(share: tuple[float, float] | None) -> tuple[float, float] | None:
        if share is None:
            return None
        return share[0] * (picture.width_px - 1), share[1] * (picture.height_px - 1)

    progress(0.35, "photo")
    found = find_main_colours(
        picture, count=count, accents=accents, grey_point=spot(grey), white_point=spot(white)
    )
    progress(0.8, "view")
    return {"found": found, "view": _small_jpeg(shown_photo(picture, found), 1400)}


def read_chart_pictures(
    pictures: list[tuple[str, str]], palette: Palette, chart: str | None, setup: str, progress: Progress
) -> dict[str, Any]:
    """Read a coloured chart from its pictures.

    Args:
        pictures: (path, name) of each.
        palette: the drawer.
        chart: path of the chart's description file, or None to rebuild it from the page's code.
        setup: a name for this camera and light.
        progress: told how far it is.

    Returns: ``record`` of the scan, without its pictures, ``proposed`` readings, the same ``mended`` where
        markers look swapped or shifted, those of markers ``unknown`` to the drawer, ``lifts`` of the blender, and
        ``contact``, PNGs.
    Raises: PictureError or SheetError.
    """
    from dataclasses import replace

    from blendkit.chart.contact import draw_contact
    from blendkit.chart.plausible import mended
    from blendkit.chart.scan import read_scan
    from blendkit.chart.scan_record import lifts_for, readings_for, unknown_readings_for
    from blendkit.picture import read_picture

    steps = len(pictures) + 2
    opened = []
    for number, (path, name) in enumerate(pictures):
        progress((number + 0.2) / steps, "open", name)
        opened.append(read_picture(Path(path).read_bytes(), name=name))
    progress(len(pictures) / steps, "boxes")
    record = read_scan(opened, chart or palette, palette=palette, setup=setup)
    proposed, unknown = readings_for(record, palette), unknown_readings_for(record, palette)
    progress((len(pictures) + 1) / steps, "contact")
    contact = draw_contact(record)
    bare = replace(record, pages=tuple(replace(page, pixels=None, fit=None) for page in record.pages))  # type: ignore[arg-type]
    found = {"record": bare, "proposed": proposed, "unknown": unknown, "lifts": lifts_for(record, palette)}
    better = mended(record)
    found["mended"] = () if better == record else readings_for(better, palette)
    return {**found, "contact": list(contact)}
