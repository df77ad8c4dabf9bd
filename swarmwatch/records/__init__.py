"""The keeper's records: one store, on a file or a database, read and written as frames."""

from swarmwatch.records.store import Records, Stored, open_records, records_exist

__all__ = ["Records", "Stored", "open_records", "records_exist"]
