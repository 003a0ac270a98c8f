"""Figures that others published, as data in `values`, and the engine asked for the same ones by `checks`."""
