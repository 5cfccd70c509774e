"""Answers."""
