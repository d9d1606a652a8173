"""What every row hangs on: the shop itself, its people, devices and jobs; undo, the door, long runs, units and the page cache."""
