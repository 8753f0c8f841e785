"""In what medium? Documents and drawings become pages, sheets, calendars, files."""
