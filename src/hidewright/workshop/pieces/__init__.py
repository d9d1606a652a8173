"""The survey: pieces, their faces, and the routes that they go through."""
