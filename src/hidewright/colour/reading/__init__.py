"""Readings in: files, instruments, photos and words, each with its spread and its conditions."""
