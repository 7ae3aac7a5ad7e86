"""Trend logs as evidence: files that come in piece by piece, mappings that are kept, records that are sent."""
