"""The sizes of what no instrument's papers tell, k = 1. Common practice, no source, unless a line says otherwise."""

from commissioning.dossier.instrument_error import COMMON_PRACTICE

SOURCE = COMMON_PRACTICE
VOLTAGE_WANDER = 0.001  # relative: the supply, between one reading and the next
CURRENT_WANDER = 0.005  # relative: the load, likewise
POWER_WANDER = 0.01
SPEED_WANDER = 0.002
POWER_FACTOR = 0.02  # absolute
DRIVE_DISPLAY = 0.025  # relative: a drive's display is good to 3 to 5 % (k = 2)
BEHIND_DRIVE = 0.05  # relative: a meter on the output of a drive, whose current is not a sine
DRIVE_EFFICIENCY, DRIVE_EFFICIENCY_SPREAD = 0.97, 0.015  # where the design gives none, and how well either is known
MOTOR_EFFICIENCY_SPREAD = 0.02  # absolute: the nameplate's efficiency away from rated load
NAMEPLATE_SLIP = 0.10  # relative half-width: how far a nameplate's slip may be off (US DOE fact sheet)
