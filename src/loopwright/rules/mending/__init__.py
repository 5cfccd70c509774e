"""What can be put right by an edit. Every module here is imported, so adding a repair touches nothing else."""

from importlib import import_module
from pkgutil import iter_modules

for _module in sorted(m.name for m in iter_modules(__path__)):
    import_module(f"{__name__}.{_module}")
