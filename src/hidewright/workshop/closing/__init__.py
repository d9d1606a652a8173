"""The closing file: all of a job on one paper and in one zip, and back into another shop."""
