"""Thin views: read the form, call one step, return a page or a fragment of it."""
