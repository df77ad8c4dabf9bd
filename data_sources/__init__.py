"""Adapters to open weather and land data. Usable alone: nothing here knows of swarmwatch."""
