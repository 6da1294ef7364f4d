"""Measuring a film that is to be matched: its shots, when new pictures were taken, how the frame wandered."""
