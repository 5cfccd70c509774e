"""What a sheet looks like, without Qt."""
