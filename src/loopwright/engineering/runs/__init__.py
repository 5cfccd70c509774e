"""Runs: the drawn system in time. A power cut (`cut`), a day (`day`), and what they give back (`result`)."""
