"""Cut-paper animation: the library, timing, rendering and delivery behind the Blender add-on."""

__version__ = "0.1.0"
