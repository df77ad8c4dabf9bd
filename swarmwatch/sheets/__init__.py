"""Paper to walk out with: a sheet for each bait box, letters and labels."""

from swarmwatch.sheets.files import paper_files

__all__ = ["paper_files"]
