"""Property tests are judged by what they find, not by how long one example took on a busy machine."""

from __future__ import annotations

from hypothesis import settings

settings.register_profile("patient", deadline=None)
settings.load_profile("patient")
