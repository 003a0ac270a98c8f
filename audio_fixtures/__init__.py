"""Bundled recordings, made by `make.py` and listed in `manifest.csv`."""
