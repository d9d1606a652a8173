"""The first call: what it will cost and how long it will take, roughly, before anything is listed."""
