"""The page on a phone: its server, its protocol, and the files it is made of (`static/`)."""
