"""Figures of speed, memory and hearing, printed by `rodside bench`."""
