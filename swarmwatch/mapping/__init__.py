"""Show a plan: interactive map, printed sheet, files for a phone."""
