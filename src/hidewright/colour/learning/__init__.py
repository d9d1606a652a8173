"""What the shop's cups teach about its bottles, and the library that keeps it."""
