"""Three plain kinds beside the shipped ones, so that tests of edits do not hang on the catalogue's
figures."""

from __future__ import annotations

from functools import cache

from loopwright.catalogue import Catalogue, standard_catalogue
from loopwright.catalogue.reader import build_kind

_NUMBER = {"help": "For tests.", "unit": "m"}


@cache
def catalogue() -> Catalogue:
    """The shipped kinds, a vessel, a valve with two opposite ports, and a sensor without ports."""
    vessel = {
        "id": "test_vessel",
        "name": "Test vessel",
        "group": "Tests",
        "help": "A vessel with tappings.",
        "large": True,
        "body": "store",
        "props": {
            "body_diameter_m": {"name": "body_diameter_m", "label": "Body diameter", "default": 0.5, **_NUMBER},
            "body_height_m": {
                "name": "body_height_m",
                "label": "Body height",
                "default": 1.6,
                "least": 0.3,
                "most": 4.0,
                **_NUMBER,
            },
            "vented": {"name": "vented", "label": "Vented", "kind": "flag", "help": "Open to a cistern."},
            "volume_l": {"name": "volume_l", "label": "Volume", "default": 250, "help": "Water.", "unit": "l"},
        },
    }
    valve = {
        "id": "test_valve",
        "name": "Test valve",
        "group": "Tests",
        "help": "A valve with a direction.",
        "letter": "V",
        "ports": {
            "a": {"at": (-0.12, 0.0), "side": "left"},
            "b": {"at": (0.12, 0.0), "side": "right"},
        },
        "ways": {"through": {"a": "a", "b": "b", "does": "hand"}},
        "props": {
            "rest": {
                "name": "rest",
                "label": "Rests",
                "kind": "choice",
                "choices": ("open", "shut"),
                "default": "shut",
                "help": "Without power.",
            }
        },
    }
    plug = {
        "id": "test_plug",
        "name": "Test plug",
        "group": "Tests",
        "help": "Screws into a boss.",
        "letter": "plug",
        "ports": {"a": {"at": (-0.12, 0.0), "side": "left"}},
    }
    sensor = {"id": "test_sensor", "name": "Test sensor", "group": "Tests", "help": "Feels.", "letter": "S"}
    extra = [build_kind(raw, "test") for raw in (vessel, valve, plug, sensor)]
    return Catalogue([*standard_catalogue(), *extra])
