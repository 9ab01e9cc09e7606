"""The open palette: what is cached of them, undo, files and long work."""

import hashlib
import json
import os
import threading
from collections import OrderedDict
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from blendkit.desk.files import Upload, Uploads
from blendkit.desk.jobs import Workshop
from blendkit.errors import BlendkitError, PaletteError, Problem
from blendkit.files import kept_folder, replace_file
from blendkit.inked import Inked, choose_paper, ink_drawer
from blendkit.palette import (
    Palette,
    demo_palette_path,
    empty_palette,
    list_versions,
    name_key,
    read_palette,
    restore_version,
    update_palette,
    write_palette,
)
from blendkit.palette.calibration_file import calibration_path
from blendkit.picture import Picture

EMPTY_VERSION = "empty"
"""Version of a palette file that isn't there yet."""

KEPT_DRAWERS = 12
"""Drawers on a paper that are kept ready; one of 400 markers takes about 0.5 MB."""

KEPT_ANSWERS = 200
"""Answers that take long (gaps, schemes) and are kept until the palette changes."""

KEPT_WORDS = 400
"""Steps of a file whose words are kept, to say what its earlier versions came after. Own judgement."""

UNDO_STEPS = 10
"""Edits of the drawer that can be taken back one by one; a step knows what stood before by its digest."""


class Changed(BlendkitError):
    """What is to be changed is no longer what the person saw."""


_Stat = tuple[int, int, int] | None
"""What changes with a file's contents: its time, size and number; None where there is none."""


def _stat(path: Path) -> _Stat:
    try:
        stat = os.stat(path)
    except FileNotFoundError:
        return None
    return stat.st_mtime_ns, stat.st_size, stat.st_ino


def digest_of(path: Path) -> str:
    """Give what tells a file's contents apart; :data:`EMPTY_VERSION` where there is none."""
    try:
        return hashlib.sha256(path.read_bytes()).hexdigest()[:16]
    except FileNotFoundError:
        return EMPTY_VERSION


@dataclass(frozen=True)
class UndoStep:
    """One step: what it was, and the digests of the file before and after it."""

    words: str
    kept: str
    after: str


Restore = Callable[[Path, str], object]
"""Given the file and the name of a kept version: puts it back."""

Refuse = Callable[[UndoStep | None, str], BlendkitError]
"""Given a step that can't be moved, None where there is none, and a verb: says why."""


class Steps:
    """The steps that were made of a file, and those that were taken back, newest last.

    They are kept beside the file's earlier versions, so that they outlive the desk; a step whose file was changed
    elsewhere since is forgotten when they are read.
    """

    def __init__(self, file: Path, most: int, restore: Restore, refuse: Refuse) -> None:
        self._file = file
        self._most = most
        self._restore = restore
        self._refuse = refuse
        self._lists: tuple[list[UndoStep], list[UndoStep]] | None = None
        self._after: dict[str, str] = {}

    @property
    def _path(self) -> Path:
        return kept_folder(self._file) / "steps.json"

    def _read(self) -> tuple[list[UndoStep], list[UndoStep]]:
        if self._lists is None:
            made: list[UndoStep] = []
            undone: list[UndoStep] = []
            try:
                kept = json.loads(self._path.read_bytes())
                made, undone = ([UndoStep(*map(str, row)) for row in kept[key]] for key in ("made", "undone"))
                self._after = {str(key): str(words) for key, words in kept["after"].items()}
            except (OSError, ValueError, TypeError, KeyError, AttributeError):
                self._after = {}
            now = digest_of(self._file)
            self._lists = (
                made if made and made[-1].after == now else [],
                undone if undone and undone[-1].after == now else [],
            )
        return self._lists

    def _write(self) -> None:
        made, undone = self._read()
        rows = {
            "made": [[one.words, one.kept, one.after] for one in made],
            "undone": [[one.words, one.kept, one.after] for one in undone],
            "after": dict(list(self._after.items())[-KEPT_WORDS:]),
        }
        with suppress(OSError, BlendkitError):
            self._path.parent.mkdir(exist_ok=True)
            replace_file(self._path, json.dumps(rows).encode())

    def add(self, step: UndoStep) -> None:
        """Remember a step; what was taken back before can't be done again after it."""
        made, _ = self._read()
        self._lists = ([*made, step][-self._most :], [])
        self._after.pop(step.after, None)
        self._after[step.after] = step.words
        self._write()

    def words_of(self, path: Path) -> str:
        """Say after which step a file's contents came to be, or "" where that was not here."""
        self._read()
        return self._after.get(digest_of(path), "")

    @property
    def undo_words(self) -> str:
        """What undo would take back, or ""."""
        made, _ = self._read()
        return made[-1].words if made else ""

    @property
    def redo_words(self) -> str:
        """What redo would do again, or ""."""
        _, undone = self._read()
        return undone[-1].words if undone else ""

    def undo(self) -> str:
        """Take the last step back. Returns: the step's words. Raises: what refuse gives; Changed among it."""
        made, undone = self._read()
        return self._move(made, undone, "taken back")

    def redo(self) -> str:
        """Do again what was taken back last; see :meth:`undo`."""
        made, undone = self._read()
        return self._move(undone, made, "done again")

    def restore(self, name: str) -> None:
        """Put an earlier version back, as a step that can be taken back, too."""
        before = digest_of(self._file)
        self._restore(self._file, name)
        self.add(UndoStep("put an earlier version back", before, digest_of(self._file)))

    def _move(self, source: list[UndoStep], target: list[UndoStep], verb: str) -> str:
        step = source[-1] if source else None
        if step is None or digest_of(self._file) != step.after:
            raise self._refuse(step, verb)
        kept = (one.name for one in list_versions(self._file) if digest_of(one.path) == step.kept)
        self._restore(self._file, next(kept, step.kept))
        source.pop()
        target.append(UndoStep(step.words, step.after, digest_of(self._file)))
        self._write()
        return step.words


class OpenDrawer:
    """An open palette and all that its calls share. Methods may be called from several threads."""

    def __init__(self, palette_path: Path, project_path: Path | None = None) -> None:
        self.palette_path = Path(os.path.realpath(palette_path))
        self.project_path = None if project_path is None else Path(os.path.realpath(project_path))
        self.uploads = Uploads()
        self.workshop = Workshop()
        self._lock = threading.RLock()
        self._signature: tuple[_Stat, _Stat] | None = None
        self._palette = empty_palette()
        self._palette_digest = self._version = EMPTY_VERSION
        self._inked: OrderedDict[tuple[str, str], Inked] = OrderedDict()
        self._picture: tuple[str, Picture] | None = None
        self._answers: dict[tuple[str, ...], Any] = {}
        self._answers_for = EMPTY_VERSION
        self.steps = Steps(self.palette_path, UNDO_STEPS, restore_version, self._refuse_step)

    def close(self) -> None:
        """Stop long work and remove files that were sent."""
        self.workshop.close()
        self.uploads.close()

    # ------------------------------------------------------------ the palette as it is on disk

    @property
    def is_demo(self) -> bool:
        """Whether the open file is the packaged demo palette, which stays as it is."""
        return self.palette_path.parent == demo_palette_path().resolve().parent

    def palette(self) -> Palette:
        """Give the palette, read again when the file has changed.

        Raises: PaletteError when the file has become unreadable.
        """
        return self.current()[1]

    def current(self) -> tuple[str, Palette]:
        """Give version and palette together, so that an answer can say what it rests on.

        The version is of the contents of the palette and of the ink constants that are stored beside it.
        """
        with self._lock:
            ink_path = calibration_path(self.palette_path)
            try:
                signature = (_stat(self.palette_path), _stat(ink_path))
                if signature[0] is None:
                    self._signature, self._palette = None, empty_palette()
                    self._palette_digest = self._version = EMPTY_VERSION
                elif signature != self._signature:
                    digest, ink = digest_of(self.palette_path), digest_of(ink_path)
                    if digest != self._palette_digest:
                        self._palette = read_palette(self.palette_path)
                        self._palette_digest = digest
                    self._version = digest if ink == EMPTY_VERSION else f"{digest}-{ink}"
                    self._signature = signature
            except OSError as error:
                name = Path(error.filename or self.palette_path).name
                problem = Problem(name, error.strerror or str(error), "a file that you may read")
                raise PaletteError("The palette can't be opened.", [problem]) from None
            return self._version, self._palette

    def inked(self, on: str | None = None) -> Inked:
        """Give the drawer on a paper, from the cache where it is in it: palette and ink constants as on disk.

        Raises: InkError for a drawer without markers; PaletteError for an unknown paper.
        """
        with self._lock:
            version, palette = self.current()
            paper = name_key(choose_paper(palette, on).name) if palette.markers else ""
            found = self._inked.get((version, paper))
            if found is None:
                found = ink_drawer(palette, on)
                self._inked[version, paper] = found
                while len(self._inked) > KEPT_DRAWERS:
                    self._inked.popitem(last=False)
            self._inked.move_to_end((version, paper))
            return found

    def picture(self, upload: Upload) -> Picture:
        """Give a picture that was sent, decoded; the last one stays decoded for the next click."""
        from blendkit.picture import read_picture

        with self._lock:
            if self._picture is None or self._picture[0] != upload.number:
                self._picture = (upload.number, read_picture(upload.path.read_bytes(), name=upload.name))
            return self._picture[1]

    def remember(self, key: tuple[str, ...], work: Callable[[], Any]) -> Any:
        """Give what *work* gives, kept until the version changes; *key* says what it is."""
        version, _ = self.current()
        with self._lock:
            if self._answers_for != version:
                self._answers, self._answers_for = {}, version
            if key in self._answers:
                return self._answers[key]
        answer = work()
        with self._lock:
            if self._answers_for == version and len(self._answers) < KEPT_ANSWERS:
                self._answers[key] = answer
        return answer

    # ------------------------------------------------------------ edits, undo, earlier versions

    def edit(self, words: str, change: Callable[[Palette], Palette]) -> Palette:
        """Change the palette file, and remember how to take it back.

        Args:
            words: what was done, for the undo button.
            change: as :func:`~blendkit.palette.update_palette` takes it.

        Returns: the palette as written.
        Raises: PaletteError; Changed when *change* finds something else than the person saw.
        """
        with self._lock:
            self.check_writable()
            if not self.palette_path.exists():
                self.palette_path.parent.mkdir(parents=True, exist_ok=True)
                write_palette(self.palette_path, empty_palette())
            before = digest_of(self.palette_path)
            written = update_palette(self.palette_path, change)
            after = digest_of(self.palette_path)
            if after != before:
                self.steps.add(UndoStep(words, before, after))
            return written

    def check_writable(self) -> None:
        """Refuse to write beside or into the packaged demo. Raises: PaletteError with what to do instead."""
        if self.is_demo:
            problem = Problem(self.palette_path.name, "the invented demo palette", "a drawer of your own")
            raise PaletteError(
                "The demo palette stays as it is. Close this desk and open it with a file of your own: "
                "blendkit desk --palette my-drawer.csv",
                [problem],
            )

    def undo(self) -> str:
        """Take the last edit back.

        Returns: what was taken back.
        Raises: Changed when something else has changed the file since; PaletteError when there is nothing.
        """
        with self._lock:
            return self.steps.undo()

    def redo(self) -> str:
        """Do again what was taken back last; see :meth:`undo`."""
        with self._lock:
            return self.steps.redo()

    def _refuse_step(self, step: UndoStep | None, verb: str) -> BlendkitError:
        if step is None:
            return PaletteError(f"There is nothing to be {verb}.")
        return Changed(
            f"“{step.words}” can't be {verb}: the palette was changed elsewhere since. "
            "Earlier versions are all kept: look there.",
            [Problem(self.palette_path.name, "a newer version", "one of the earlier versions")],
        )

    def restore(self, name: str) -> None:
        """Put an earlier version back; that, too, can be taken back.

        Raises: PaletteError when there is no such version.
        """
        with self._lock:
            self.check_writable()
            self.steps.restore(name)
