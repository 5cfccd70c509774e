"""Starting sheets."""
