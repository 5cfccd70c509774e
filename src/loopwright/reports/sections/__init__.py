"""One module a part of the report. Each gives sections from what is known of a sheet, and keeps its tables."""
