"""From sound to words."""
