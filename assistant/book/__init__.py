"""The field book: append-only, durable before a reply is spoken."""
