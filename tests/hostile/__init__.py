"""Input that nobody would type: whatever comes, it is taken or refused by name, at once and in little memory."""
