"""The books of all crews in one PostgreSQL database of the office. A book on the spot needs none of it."""
