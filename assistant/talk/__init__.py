"""One talk: what is heard or typed, understood, decided, written, and only then answered."""
