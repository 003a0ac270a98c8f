"""A straight design line along stations."""

from __future__ import annotations

from fractions import Fraction


def elevation_at(station: Fraction, *, start_station: Fraction, start_elevation: Fraction, slope: Fraction) -> Fraction:
    """Elevation of the line at `station`. `slope` is rise over run along the stations, negative where it falls."""
    return start_elevation + slope * (station - start_station)


def grade_rod_at(station: Fraction, *, start_station: Fraction, start_rod: Fraction, slope: Fraction) -> Fraction:
    """What the rod reads on the line at `station` under a flat beam: where the line falls, the reading grows."""
    return start_rod - slope * (station - start_station)
