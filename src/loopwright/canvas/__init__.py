"""The sheet in the window: scene, items, view, and tools that know no Qt."""
