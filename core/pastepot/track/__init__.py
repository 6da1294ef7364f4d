"""Dialogue: from a sound and its lines to a mouth on every exposure."""
