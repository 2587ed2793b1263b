"""The rules of the trade, as pure functions: no clock, disk, database or request is read here."""
