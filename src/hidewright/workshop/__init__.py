"""The shop's app: one Django app that remembers the work and puts every stage on a page."""
