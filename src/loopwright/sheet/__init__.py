"""The drawing as frozen values, and edits that make a new one."""
