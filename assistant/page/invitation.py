"""What is printed so that a phone finds its way here."""

from __future__ import annotations

import io

import segno

from assistant.page.devices import Rights

WHAT = {Rights.LOG: "talk and write", Rights.LISTEN: "hear and see", Rights.VIEW: "see"}


def address_with(page: str, code: str) -> str:
    """The address that pairs."""
    return f"{page}/pair?code={code}"


def picture(text: str) -> str:
    """A QR code for a terminal."""
    stream = io.StringIO()
    segno.make(text, error="m").terminal(out=stream, compact=True, border=2)
    return stream.getvalue()


def spaced(code: str) -> str:
    """A code as one reads it to another."""
    return f"{code[: len(code) // 2]} {code[len(code) // 2 :]}"


def invitation(page: str, landing: str, fingerprint: str, codes: dict[Rights, str]) -> str:
    """The whole text."""
    first = max(codes)
    lines = [
        f"First, once a phone: open {landing} and do what it says there. The certificate's SHA-256 is",
        f"  {fingerprint}",
        f"Then open {page} and give a code. Each pairs one device, within a quarter of an hour:",
        *(f"  {spaced(code)}  may {WHAT[rights]}" for rights, code in sorted(codes.items(), reverse=True)),
        f"Or point the phone's camera here (to {WHAT[first]}):",
        picture(address_with(page, codes[first])),
    ]
    return "\n".join(lines)
