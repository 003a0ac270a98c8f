"""The dialogue: what a meaning does in a job, which entries it writes and what is answered. Pure."""

from assistant.conversation.respond import respond
from assistant.conversation.turn import Turn

__all__ = ["Turn", "respond"]
