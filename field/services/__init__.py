"""One verb of the trade a function: the only door through which anything is written."""
