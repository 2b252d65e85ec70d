"""Readers and writers: logs, units at the edge, campaign folder."""
