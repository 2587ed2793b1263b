"""Run Fellside from a checkout: `python app.py`, or `python app.py demo`."""

from field.cli import main

if __name__ == "__main__":
    raise SystemExit(main())
