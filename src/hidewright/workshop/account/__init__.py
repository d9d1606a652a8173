"""After the work: what was quoted against what it took, what to invoice, and claims or later damage."""
