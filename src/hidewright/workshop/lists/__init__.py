"""Lists in: one way for every list, from the file or the paste to what is taken, with the shop's own headings and words remembered."""
