"""Pages and printed reports on how good past forecasts were."""
