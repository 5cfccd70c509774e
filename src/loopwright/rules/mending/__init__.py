"""What can be put right by an edit, by theme; importing this registers all of it."""

from loopwright.rules.mending import branches, fittings, pipes, places, values

__all__ = ["branches", "fittings", "pipes", "places", "values"]
