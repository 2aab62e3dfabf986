"""Files for other programs: maps, drawings, tables, captions, coded text; and a redacted copy."""
