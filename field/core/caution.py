"""One thing to be said beside a figure: a code that programs compare, and a plain sentence for a person."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Caution:
    """A reason or a caution."""

    code: str  # short lower-case fact with hyphens
    text: str  # one plain sentence

    def as_json(self) -> dict[str, str]:
        """Return the form that the documents carry."""
        return {"code": self.code, "text": self.text}
