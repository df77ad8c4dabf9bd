"""What can go wrong with a source of open data.

SourceError
    SourceUnavailable   the service or file can't be reached and nothing older is at hand
    SourceMalformed     an answer or file of another shape than agreed
"""


class SourceError(Exception):
    """Base of every fault of a source; the message says what, where and how to mend."""


class SourceUnavailable(SourceError):  # noqa: N818 - the design fixes the name
    """No answer, and nothing older at hand."""


class SourceMalformed(SourceError):  # noqa: N818 - the pair of the name above
    """An answer or a file that doesn't hold what it should."""
