"""Colour advice for people who colour stamped line images with alcohol markers.

Every command of the command line is the twin of one function here: open a palette, call it, print the frozen
record that comes back.

>>> import blendkit
>>> drawer = blendkit.read_palette(blendkit.demo_palette_path())
>>> blendkit.find_pair(drawer, "moss stone dawn").shadow[0].name
'moss stone noon'

Names are imported from their rooms when they are first used, so that a short command starts quickly; __init__.pyi
says where each lives.
"""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
