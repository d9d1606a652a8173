"""What a plan is, and the audit that knows nothing of who made it."""
