"""loopwright: draw heat-store pipework as a section through the house and see what is unsafe or will not work."""

__version__ = "0.1.0"
