"""Reading a unit's controller over BACnet/IP: objects in, values with their units out. It reads and cannot write.

The only room that needs the extra `bacnet` (requirements/bacnet.txt), and in it the only module is `wire`. It knows no
database: what it reads becomes a record by the same door as any other.
"""
