"""Placeholder."""
TOPICS = ("setting", "readings", "lines", "questions", "talking")
def examples(topic: str) -> list[str]:
    """X."""
    return ["reading three foot nine at station forty"]
