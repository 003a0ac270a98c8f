"""Simulated days on a site, through the real chain from samples to book: how often a wrong number goes in quietly."""
