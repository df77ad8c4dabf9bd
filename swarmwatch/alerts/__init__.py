"""Alerts: when a line is crossed, once, through a channel."""
