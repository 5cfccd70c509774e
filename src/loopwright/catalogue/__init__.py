"""The catalogue: every kind of part as data."""

from loopwright.catalogue.kinds import Behaviour, Kind, PortSpec, PropSpec, WaySpec
from loopwright.catalogue.reader import Catalogue, standard_catalogue, user_catalogue

__all__ = [
    "Behaviour",
    "Catalogue",
    "Kind",
    "PortSpec",
    "PropSpec",
    "WaySpec",
    "standard_catalogue",
    "user_catalogue",
]
