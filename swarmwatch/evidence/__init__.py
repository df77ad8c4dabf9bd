"""Which numbers does the tool use, and where does each come from?

One TOML file a subject, one table an entry: ``value unit low high distribution source grade
note``. The key of an entry is ``file.entry``, such as ``departure.weight_before_sealing``.
"""

from swarmwatch.evidence.loading import load_evidence
from swarmwatch.evidence.model import Z_HIGH, Entry, Evidence, scale_of
from swarmwatch.evidence.spread import spread_points

__all__ = ["Z_HIGH", "Entry", "Evidence", "load_evidence", "scale_of", "spread_points"]
