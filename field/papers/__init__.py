"""Plain records in, text or bytes out."""
