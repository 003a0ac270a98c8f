"""How Rodside's own acoustic model is made: from recordings and synthesizers to a folder that Vosk loads."""
