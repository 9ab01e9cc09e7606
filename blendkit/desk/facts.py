"""What the page has to know beforehand, served to it once as a script: lights, finishes, file types, cautions."""

import json
from typing import Any

from blendkit.desk.looks import EYES
from blendkit.exchange.records import FORM_OF_ENDING
from blendkit.page.cautions import SAFETY_LINE
from blendkit.palette import FINISHES
from blendkit.picture.reading import ENDINGS
from blendkit.spectrum import LIGHTS

FACTS: dict[str, Any] = {
    "LIGHTS": [[code, light.label[0].upper() + light.label[1:]] for code, light in LIGHTS.items()],
    "EYES": list(EYES.items()),
    "FINISHES": FINISHES,
    "PICTURES": ",".join(ENDINGS),
    "PALETTES": ",".join(FORM_OF_ENDING),
    "CAUTION": SAFETY_LINE,
}
"""By the names that the page imports; each is told where it lives, and here only handed on."""


def facts_script() -> str:
    """Give the facts as an ES module of constants."""
    return "".join(f"export const {name} = {json.dumps(value)};\n" for name, value in FACTS.items())
