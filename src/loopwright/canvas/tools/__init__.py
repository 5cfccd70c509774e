"""Pointer tools, each a state machine without Qt."""
