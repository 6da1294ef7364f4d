"""Handmade timing: exposures, curves sampled at them, and the small misses of a hand."""
