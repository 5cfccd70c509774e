"""The window: one document, the panels around its sheet, and the commands that change it."""
