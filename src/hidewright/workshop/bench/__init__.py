"""The hands at the bench: cups, gun loads, jars, top-ups and mixing again."""
