"""Which browser the tests drive, and the sizes of the windows that they look through."""

import shutil

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
FLAGS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)
DESKTOP, TABLET, PHONE = (1440, 860), (768, 1024), (390, 844)
