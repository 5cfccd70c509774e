"""Input that nobody would type: whatever comes, it is taken or refused by a named error, at once and in little memory."""
