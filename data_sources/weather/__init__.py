"""Daily weather from a keeper's own file or an open service, as one table."""
