"""Computations on plain numbers, each with its equation, range and source."""
