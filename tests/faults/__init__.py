"""What the world does to a program: full disks, other people, missing things. Said in words, and nothing is lost."""
