"""Bytes in, plain records and faults out. Nothing here opens a file or asks the clock."""
