"""The contact picture of a photo: the photo, its colours with their places and shares, and what matches them."""

import io
from dataclasses import dataclass

from blendkit.art.photo import MainColours, shown_photo
from blendkit.picture import Picture


@dataclass(frozen=True, slots=True)
class ContactMatch:
    """Something of the drawer that goes with a colour of a photo.

    Attributes:
        name: as in the palette.
        hex: its colour for the screen.
        words: a few words below the name, such as "card stock, close".
    """

    name: str
    hex: str
    words: str = ""


@dataclass(frozen=True, slots=True)
class PhotoAnswer:
    """The colours of a photo, and for each in turn what goes with it, best first; three at most are shown."""

    found: MainColours
    matches: tuple[tuple[ContactMatch, ...], ...] = ()

    @property
    def words(self) -> tuple[str, ...]:
        """What to know."""
        return (self.found.balance, *self.found.notes)


def photo_pictures(found: MainColours, picture: Picture) -> dict[str, bytes]:
    """Give the photo as the contact picture shows it, for ``report.write_report``."""
    from PIL import Image

    stream = io.BytesIO()
    Image.fromarray(shown_photo(picture, found)).save(stream, "PNG")
    return {"photo.png": stream.getvalue()}
