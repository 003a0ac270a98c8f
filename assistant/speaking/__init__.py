"""From words to sound."""
