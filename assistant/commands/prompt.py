"""A prompt with history, and completion by what can come next."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from prompt_toolkit import PromptSession
from prompt_toolkit.completion import CompleteEvent, Completer, Completion
from prompt_toolkit.document import Document

from assistant.talk.listening import language
from assistant.talk.session import Session


class NextWord(Completer):
    """Offers the words that the grammar allows after those typed."""

    def __init__(self, session: Session) -> None:
        self._session = session

    def get_completions(self, document: Document, complete_event: CompleteEvent) -> Iterable[Completion]:
        """The words that can follow, and begin as the last one does."""
        words = document.text_before_cursor.lower().split()
        begun = "" if not words or document.text_before_cursor.endswith(" ") else words.pop()
        for word in sorted(language(self._session.context).after(words)):
            if word.startswith(begun):
                yield Completion(word, start_position=-len(begun))


def lines(session: Session) -> Iterator[str]:
    """Typed lines, until the end of the input or an interrupt."""
    prompt: PromptSession[str] = PromptSession(completer=NextWord(session), complete_while_typing=False)
    while True:
        try:
            yield prompt.prompt("rod> ").strip()
        except EOFError:
            return
