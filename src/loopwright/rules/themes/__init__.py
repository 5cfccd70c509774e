"""One module a theme. Every module here is imported, so adding a rule touches nothing else.

Those of `SOLVING` hold only what solves the flow, and are imported when that is asked for: the solver is heavy, and a
check by the graph alone does without it.
"""

from importlib import import_module
from pkgutil import iter_modules

SOLVING = ("gravity_flow", "power_cut", "sharper", "sizing", "vent_pressure")


def load_solving() -> None:
    """Import the modules whose rules solve the flow."""
    for name in SOLVING:
        import_module(f"{__name__}.{name}")


for _module in sorted(m.name for m in iter_modules(__path__)):
    if _module not in SOLVING:
        import_module(f"{__name__}.{_module}")
