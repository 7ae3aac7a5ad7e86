"""Simulated days judged: what of the planted faults is found, what is missed, and what is found that is not there."""
