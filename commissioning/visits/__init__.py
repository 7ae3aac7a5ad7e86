"""Visits: which units somebody goes to, why, by whom and when; planned in versions, called wasted with its cause."""
