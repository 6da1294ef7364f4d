"""Adapters between the core's values and Blender's data; no operators here."""
