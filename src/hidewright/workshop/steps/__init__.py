"""One function per user act; each owns its transaction and says what it changed."""
