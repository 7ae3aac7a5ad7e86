"""The sizes of what no reading of an outlet tells. All are relative, k = 1, and common practice, no source.

The method's own error splits into what is common to all outlets that were read so, and what changes with the type of
device; together they are what the same method has at a port: 0.025 for a hood, 0.02 for a direct reading.
"""

from commissioning.dossier.instrument_error import COMMON_PRACTICE

SOURCE = COMMON_PRACTICE
METHOD = {"hood": 0.020, "direct": 0.016}
DEVICE_TYPE = {"hood": 0.015, "direct": 0.012}
BACK_PRESSURE = {"compensated": 0.0, "not_compensated": 0.04, "not_known": 0.03}
READ_OFF_CONTROLLER = 0.03
USUAL_FACTORS = (0.90, 1.10)
