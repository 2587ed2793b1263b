"""The verb that sets the owner's passphrase: for whoever sits at the server itself, also where it was forgotten."""

from __future__ import annotations

import getpass
import sys

from field.core.errors import BadInput
from field.verbs.call import DONE, Args, open_store, say

MOST_READ = 8192  # bytes: more is no passphrase


def run_passphrase(args: Args) -> int:
    """Set the owner's passphrase, whatever it was, and end all sign-ins."""
    from field.services import owner

    with open_store(args):
        was_set = owner.is_set()
        owner.set_passphrase(_read())
    document = {"ok": True, "was_set": was_set}
    say(args, document, lambda told: ["The passphrase is set. Whoever was signed in is so no longer."])
    return DONE


def _read() -> str:
    """Return the passphrase: typed twice without being shown, or one line of what a script hands over."""
    if not sys.stdin.isatty():
        line = sys.stdin.buffer.read(MOST_READ).split(b"\n")[0].rstrip(b"\r")
        try:
            return line.decode("utf-8")
        except UnicodeDecodeError:
            raise BadInput("The passphrase is not text in UTF-8.", "Nothing was changed.") from None
    first = getpass.getpass("New passphrase: ")
    if getpass.getpass("The same once more: ") != first:
        raise BadInput("The two are not the same.", "Nothing was changed; call it again.")
    return first
