"""People who do anything in any order: what they drew is never lost, and never other than it looks."""
