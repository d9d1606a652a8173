"""Planning while the work goes on: how it stands, planning again, and what if."""
