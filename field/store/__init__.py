"""The journal, its projection into tables, and the stored photos. The only room with SQL."""
