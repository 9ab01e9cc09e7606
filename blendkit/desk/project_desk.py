"""Opened projects: their files on disk, the work behind their previews, undo, and where new ones go."""

import hashlib
import os
import re
import secrets
import threading
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Protocol

from blendkit.desk.files import Upload
from blendkit.desk.jobs import Workshop
from blendkit.desk.session import Changed, OpenDrawer, Steps, UndoStep, digest_of
from blendkit.errors import BlendkitError, PaletteError, Problem, ProjectError
from blendkit.inked import Inked
from blendkit.palette import replace_file
from blendkit.project.part_colours import PartColours, colour_parts
from blendkit.project.reading import read_project
from blendkit.project.records import Project, ProjectPart
from blendkit.project.work import MAX_WORK_PIXELS, Work, open_work, relight
from blendkit.project.writing import restore_project, update_project, write_project
from blendkit.words import Progress

FOLDER = "projects"
"""Beside the palette: new projects go there, each in a folder of its own."""

TAKEN_AWAY = ".taken-away"
"""Within it: projects that were taken out of the list, until somebody deletes them for good."""

UNDO_STEPS = 60
"""Changes of a project that can be taken back; a project file has a few kB."""

KEPT_WORKS = 2
"""Projects whose work stays in memory; one of 1.5 megapixels takes about 40 MB."""

_ENDINGS = {
    b"\x89PNG": ".png",
    b"\xff\xd8\xff": ".jpg",
    b"II*\x00": ".tif",
    b"MM\x00*": ".tif",
    b"RIFF": ".webp",
}

Change = Callable[[Project], Project | Work]
"""Gives the changed project, or the work on it where that had to be opened to tell."""


OPEN_DRAWING = "blendkit.desk.project_desk:open_drawing"
"""What opens a project in the workshop."""


def read_near(path: Path) -> Project:
    """Read a project, but refuse one whose image lies far from it: the page shows no other files.

    Near is within its own folder, or within the folder that holds that one, where a set of projects may keep its
    drawings.

    Raises: ProjectError.
    """
    project = read_project(path)
    folder = path.parent.resolve().parent
    if folder not in Path(os.path.realpath(project.image_path)).parents:
        raise ProjectError(
            "The line image of this project lies outside its folders, so the desk doesn't open it.",
            [Problem("image", repr(project.image), f"a picture within {folder}")],
        )
    return project


def open_drawing(path: str, progress: Progress) -> tuple[str, Work]:
    """Open a project: read it, find its areas, shade them.

    Args:
        path: its file.
        progress: told how far it is.

    Returns: the digest of the file as it was read, and the work.
    Raises: ProjectError or PictureError in words.
    """
    digest = digest_of(Path(path))
    return digest, open_work(read_near(Path(path)), None, progress)


def _refuse_step(step: UndoStep | None, verb: str) -> BlendkitError:
    if step is None:
        return ProjectError(f"There is nothing to be {verb}.")
    return Changed(f"“{step.words}” can't be {verb}: the project was changed elsewhere since.")


class OpenProject:
    """One project. Methods may be called from several threads; one change is made at a time."""

    def __init__(self, key: str, path: Path, workshop: Workshop) -> None:
        self.key = key
        self._workshop = workshop
        self.path = path
        self.lock = threading.RLock()
        self.map_serial = 0
        self.tone_serial = 0
        self._relit: Work | None = None
        self._work: Work | None = None
        self._version = ""
        self._known: dict[ProjectPart, PartColours] = {}
        self._known_for: tuple[str, str] = ("", "")
        self.steps = Steps(path, UNDO_STEPS, restore_project, _refuse_step)

    @property
    def version(self) -> str:
        """Version of the file on disk."""
        return digest_of(self.path)

    @property
    def is_open(self) -> bool:
        """Whether the work on it is ready as its file is now."""
        return self._work is not None and self.version == self._version

    def take(self, version: str, work: Work) -> None:
        """Take over work that was opened elsewhere, on the file of that version."""
        with self.lock:
            self._take(work)
            self._version = version

    def work(self) -> Work:
        """Give the project at work, as its file is now; a drawing that has to be read is read in the workshop.

        Raises: ProjectError or PictureError in words.
        """
        with self.lock:
            version = self.version
            if self._work is None:
                self.take(*self._workshop.run(self.path.parent.name, OPEN_DRAWING, str(self.path)))
            elif version != self._version:
                self.take(version, open_work(read_near(self.path), self._work))
            assert self._work is not None
            return self._work

    def _take(self, work: Work) -> None:
        if self._work is None or work.relief.full_labels is not self._work.relief.full_labels:
            self.map_serial += 1
        if self._work is None or work.shades is not self._work.shades:
            self.tone_serial += 1
        self._work = work

    def relit(self, light: str) -> Work:
        """Give the work under another light, and keep it for when that light is chosen.

        Raises: ProjectError for a light that is none.
        """
        with self.lock:
            work = self.work()
            if self._relit is None or self._relit.project != replace(work.project, light=light):
                self._relit = relight(work, light)
            return self._relit

    def forget(self) -> None:
        """Let the work go from memory; it is made again when asked for."""
        with self.lock:
            self._work, self._relit, self._known = None, None, {}

    def colours(self, desk: OpenDrawer) -> tuple[Inked, tuple[PartColours, ...]]:
        """Give the drawer on the project's paper, and the colours of every part."""
        with self.lock:
            work = self.work()
            inked = self.inked(desk, work.project)
            version, _ = desk.current()
            made_for = (version, inked.paper.name)
            known: Mapping[ProjectPart, PartColours] = self._known if made_for == self._known_for else {}
            colours = colour_parts(work.project, inked, known)
            self._known = {one.part: one for one in colours}
            self._known_for = made_for
            return inked, colours

    def inked(self, desk: OpenDrawer, project: Project) -> Inked:
        """Give the drawer on the project's paper, or on the usual one when the drawer lacks it."""
        try:
            return desk.inked(project.paper or None)
        except PaletteError:
            return desk.inked()

    def change(self, words: str, change: Change) -> Work:
        """Change the project: first see that it can be worked with, then write it.

        Args:
            words: what was done, for the undo button.
            change: gives the changed project.

        Returns: the work on it.
        Raises: ProjectError or PictureError; then nothing is written.
        """
        with self.lock:
            work = self.work()
            result = change(work.project)
            wanted, known = (result.project, result) if isinstance(result, Work) else (result, work)
            if wanted == work.project:
                return work
            relit, self._relit = self._relit, None
            changed = relit if relit is not None and relit.project == wanted else open_work(wanted, known)
            before = self.version

            def still(now: Project) -> Project:
                if now != work.project:
                    raise Changed("The project was changed elsewhere just now; look at it, then try again.")
                return wanted

            written = update_project(self.path, still)
            after = self.version
            if after != before:
                self.steps.add(UndoStep(words, before, after))
            self._take(changed if changed.project == written else open_work(written, changed))
            self._version = after
            return self.work()

    def undo(self) -> str:
        """Take the last change back. Raises: Changed when the file was changed elsewhere since."""
        with self.lock:
            return self.steps.undo()

    def redo(self) -> str:
        """Do again what was taken back last; see :meth:`undo`."""
        with self.lock:
            return self.steps.redo()

    def restore(self, name: str) -> None:
        """Put an earlier version back; that, too, can be taken back. Raises: ProjectError when there is none."""
        with self.lock:
            self.steps.restore(name)


class Projects:
    """The projects that this desk may open: those beside its palette, and the one it was started with."""

    def __init__(self, desk: OpenDrawer) -> None:
        self._desk = desk
        self._open: dict[str, OpenProject] = {}
        self._lock = threading.Lock()

    @property
    def folder(self) -> Path:
        """Where new projects go."""
        return self._desk.palette_path.parent / FOLDER

    def _paths(self) -> list[Path]:
        paths = sorted(self.folder.glob("*/project.toml")) if self.folder.is_dir() else []
        own = self._desk.project_path
        if own is not None and own.exists() and own.resolve() not in {path.resolve() for path in paths}:
            paths.insert(0, own)
        return paths

    def list(self) -> list[OpenProject]:
        """Give them all, the newest changed first."""
        with self._lock:
            found = []
            for path in self._paths():
                key = hashlib.sha256(str(path.resolve()).encode()).hexdigest()[:12]
                found.append(self._open.setdefault(key, OpenProject(key, path, self._desk.workshop)))
        return sorted(found, key=lambda one: -one.path.stat().st_mtime)

    def find(self, key: str) -> OpenProject:
        """Give a project by its key; others that were worked on before the last two leave the memory.

        Raises: ProjectError when there is none.
        """
        found = self._open.get(key) or next((one for one in self.list() if one.key == key), None)
        if found is None:
            raise ProjectError(
                "That project is not here.", [Problem("project", repr(key), "one of the list of projects")]
            )
        with self._lock:
            self._open[key] = self._open.pop(key)
            for old in list(self._open.values())[:-KEPT_WORKS]:
                old.forget()
        return found

    def add(self, upload: Upload, name: str) -> OpenProject:
        """Make a project of a line image that was sent.

        Args:
            upload: the image.
            name: title of the project.

        Returns: the project, written but not yet worked on.
        Raises: PictureError when the image can't be used; ProjectError when the folder can't be written.
        """
        from blendkit.picture import read_picture

        self._desk.check_writable()
        data = upload.path.read_bytes()
        read_picture(data, name=upload.name, max_pixels=MAX_WORK_PIXELS)
        ending = next((ending for start, ending in _ENDINGS.items() if data.startswith(start)), ".png")
        with _told("The project can't be made.", self.folder):
            self.folder.mkdir(parents=True, exist_ok=True)
            folder = self._new_folder(_slug(name))
            replace_file(folder / f"image{ending}", data)
        path = folder / "project.toml"
        palette = os.path.relpath(self._desk.palette_path, folder) if not self._desk.is_demo else ""
        write_project(path, Project(image=f"image{ending}", path=path, name=name, palette=palette))
        key = hashlib.sha256(str(path.resolve()).encode()).hexdigest()[:12]
        with self._lock:
            return self._open.setdefault(key, OpenProject(key, path, self._desk.workshop))

    def copy(self, key: str) -> OpenProject:
        """Copy a project with its image into a folder of its own.

        Raises: ProjectError when it can't be read, when its image lies elsewhere, or when nothing can be written.
        """
        self._desk.check_writable()
        found = self.find(key)
        project = read_project(found.path)
        name = f"{project.name or found.path.parent.name}, copy"
        with _told("The project can't be copied.", self.folder):
            self.folder.mkdir(parents=True, exist_ok=True)
            folder = self._new_folder(_slug(name))
            image = project.image_path
            replace_file(folder / image.name, image.read_bytes())
            palette = os.path.relpath(project.palette_path, folder) if project.palette_path else ""
            path = folder / "project.toml"
            write_project(path, replace(project, path=path, name=name, image=image.name, palette=palette))
        return next(one for one in self.list() if one.path == path)

    def rename(self, key: str, name: str) -> None:
        """Give a project another title. Raises: ProjectError when it can't be read or written."""
        update_project(self.find(key).path, lambda project: replace(project, name=name))

    def take_away(self, key: str) -> str:
        """Move a project out of the list, into a hidden folder beside the others.

        Returns: what :meth:`put_back` takes. Raises: ProjectError for one that lies elsewhere, or stays.
        """
        self._desk.check_writable()
        found = self.find(key)
        if found.path.parent.parent.resolve() != self.folder.resolve():
            accepted = f"a project in {self.folder}"
            problem = Problem(found.path.name, f"in {found.path.parent}", accepted)
            raise ProjectError("This project lies elsewhere; take it away there.", [problem])
        with _told("The project can't be taken away.", self.folder):
            away = self.folder / TAKEN_AWAY
            away.mkdir(exist_ok=True)
            name = f"{found.path.parent.name}~{secrets.token_hex(4)}"
            found.path.parent.rename(away / name)
        with self._lock:
            self._open.pop(key, None)
        return name

    def put_back(self, name: str) -> None:
        """Put back what was taken away last. Raises: ProjectError when it isn't there or its place is taken."""
        away = self.folder / TAKEN_AWAY / Path(name).name
        if not away.is_dir():
            raise ProjectError(
                "That project is not here.", [Problem("name", repr(name), "one taken away here")]
            )
        with _told("The project can't be put back.", self.folder):
            folder = self._new_folder(_slug(name.rpartition("~")[0]))
            folder.rmdir()
            away.rename(folder)

    def _new_folder(self, slug: str) -> Path:
        for number in range(1, 1000):
            folder = self.folder / (slug if number == 1 else f"{slug}-{number}")
            try:
                folder.mkdir()
            except FileExistsError:
                continue
            return folder
        raise ProjectError("There are too many projects of that name.", [Problem("name", slug, "another")])


@contextmanager
def _told(message: str, folder: Path) -> Iterator[None]:
    """Turn a fault of the file system into words."""
    try:
        yield
    except OSError as error:
        problem = Problem(str(folder), error.strerror or str(error), "a folder that you may write")
        raise ProjectError(message, [problem]) from None


def _slug(name: str) -> str:
    """A folder's name of a title: small letters, digits and hyphens."""
    return re.sub(r"[^a-z0-9]+", "-", name.casefold()).strip("-")[:40] or "project"


class CanShare(Protocol):
    """What opens the desk elsewhere; the server gives it."""

    address: str

    def start(self) -> str:
        """Open it; give the whole address."""

    def stop(self) -> None:
        """Close it."""


class Desk(OpenDrawer):
    """All that the page's calls share: the open palette, its projects, files and long work."""

    def __init__(self, palette_path: Path, project_path: Path | None = None) -> None:
        super().__init__(palette_path, project_path)
        self.projects = Projects(self)
        self.sharing: CanShare | None = None
